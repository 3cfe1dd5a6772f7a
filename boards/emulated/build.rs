//! Memory and linker flags of this image. Not in a configuration file: `RUSTFLAGS` in somebody's environment
//! would switch those off.

use std::path::PathBuf;
use std::{env, fs};

fn main() {
    let target = env::var("TARGET").expect("cargo sets this");
    let riscv = target.starts_with("riscv32");
    let small = env::var_os("CARGO_FEATURE_SMALL").is_some();
    let memory = match (riscv, small) {
        (true, _) => "memory/virt.x",
        (false, true) => "memory/microbit.x",
        (false, false) => "memory/mps2.x",
    };
    // A copy where cargo keeps what it builds: a build folder may outlive the place of the sources.
    let out = PathBuf::from(env::var_os("OUT_DIR").expect("cargo sets this"));
    fs::copy(memory, out.join("memory.x")).expect("the build folder can be written");
    println!("cargo:rustc-link-search={}", out.display());
    if riscv {
        println!("cargo:rustc-link-arg-bins=-Tmemory.x");
    }
    println!("cargo:rustc-link-arg-bins=-Tlink.x");
    if env::var_os("CARGO_FEATURE_DEFMT").is_some() {
        println!("cargo:rustc-link-arg-bins=-Tdefmt.x");
    }
    println!("cargo:rustc-link-arg-bins=--nmagic"); // sections need no page of their own
    println!("cargo:rustc-link-arg-bins=--icf=all"); // functions that came out alike are one
    println!("cargo:rerun-if-changed=memory");
    println!("cargo:rerun-if-changed=build.rs");
}
