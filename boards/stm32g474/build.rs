//! Memory and linker flags of this image; nothing where the crate is built for the host, for its tests.

use std::path::PathBuf;
use std::{env, fs};

fn main() {
    println!("cargo:rerun-if-changed=memory.x");
    println!("cargo:rerun-if-changed=build.rs");
    if env::var("CARGO_CFG_TARGET_OS").as_deref() != Ok("none") {
        return;
    }
    // A copy where cargo keeps what it builds: a build folder may outlive the place of the sources.
    let out = PathBuf::from(env::var_os("OUT_DIR").expect("cargo sets this"));
    fs::copy("memory.x", out.join("memory.x")).expect("the build folder can be written");
    println!("cargo:rustc-link-search={}", out.display());
    println!("cargo:rustc-link-arg-bins=-Tlink.x");
    println!("cargo:rustc-link-arg-bins=--nmagic"); // sections need no page of their own
    println!("cargo:rustc-link-arg-bins=--icf=all"); // functions that came out alike are one
}
