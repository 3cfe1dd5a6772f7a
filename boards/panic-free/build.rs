//! Linker flags of this image. Not in a configuration file: `RUSTFLAGS` in somebody's environment
//! would switch those off.

use std::path::PathBuf;
use std::{env, fs};

fn main() {
    // A copy where cargo keeps what it builds: a build folder may outlive the place of the sources.
    let out = PathBuf::from(env::var_os("OUT_DIR").expect("cargo sets this"));
    fs::write(out.join("memory.x"), include_bytes!("memory.x")).expect("the build folder can be written");
    println!("cargo:rustc-link-search={}", out.display());
    println!("cargo:rustc-link-arg-bins=-Tlink.x");
    println!("cargo:rustc-link-arg-bins=--nmagic"); // sections need no page of their own
    println!("cargo:rustc-link-arg-bins=--icf=all"); // functions that came out alike are one
    println!("cargo:rerun-if-changed=memory.x");
    println!("cargo:rerun-if-changed=build.rs");
}
