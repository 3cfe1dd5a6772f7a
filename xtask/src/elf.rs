//! What an image or a library holds: symbols and sizes.

use std::collections::BTreeSet;
use std::path::Path;

use anyhow::{Context, Result};
use object::read::archive::ArchiveFile;
use object::{Object, ObjectSection, ObjectSymbol, SectionFlags, elf};

use crate::host::read;

/// Sizes in bytes, as people count them for a microcontroller.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Default)]
pub struct Sizes {
    /// Code and constants: flash.
    pub text: u64,
    /// Variables with a value: flash and RAM.
    pub data: u64,
    /// Variables without: RAM.
    pub bss: u64,
}

/// Sizes of an image.
pub fn sizes(path: &Path) -> Result<Sizes> {
    let bytes = read(path)?;
    let file = object::File::parse(&*bytes).with_context(|| path.display().to_string())?;
    let mut sizes = Sizes::default();
    for section in file.sections() {
        let SectionFlags::Elf { sh_flags, .. } = section.flags() else { continue };
        if !sh_flags.contains(elf::SHF_ALLOC) {
            continue;
        }
        let writable = sh_flags.contains(elf::SHF_WRITE);
        let empty = section.file_range().is_none();
        *match (writable, empty) {
            (false, _) => &mut sizes.text,
            (true, false) => &mut sizes.data,
            (true, true) => &mut sizes.bss,
        } += section.size();
    }
    Ok(sizes)
}

/// Size of a section; 0 where the image has none of that name.
pub fn section(path: &Path, name: &str) -> Result<u64> {
    let bytes = read(path)?;
    let file = object::File::parse(&*bytes).with_context(|| path.display().to_string())?;
    Ok(file.section_by_name(name).map_or(0, |section| section.size()))
}

/// Names of all symbols in an image, as the compiler mangled them, with their sizes.
pub fn symbols(path: &Path) -> Result<Vec<(String, u64)>> {
    let bytes = read(path)?;
    let file = object::File::parse(&*bytes).with_context(|| path.display().to_string())?;
    let named = file.symbols().filter_map(|symbol| Some((symbol.name().ok()?.to_owned(), symbol.size())));
    Ok(named.filter(|(name, _)| !name.is_empty()).collect())
}

/// Names of all symbols, defined or wanted, in the objects of a library.
pub fn library_symbols(path: &Path) -> Result<BTreeSet<String>> {
    let bytes = read(path)?;
    let archive = ArchiveFile::parse(&*bytes).with_context(|| path.display().to_string())?;
    let mut names = BTreeSet::new();
    for member in archive.members() {
        // The metadata beside the objects is no object.
        let Ok(file) = object::File::parse(member?.data(&*bytes)?) else { continue };
        names.extend(file.symbols().filter_map(|symbol| symbol.name().ok().map(str::to_owned)));
    }
    Ok(names)
}

/// Whether a symbol stands for floating point done in software, or for printing or reading floats.
///
/// Names of the ARM run-time ABI (`__aeabi_fadd`, `__aeabi_i2d`), of the compilers' own library
/// (`__addsf3`, `__fixdfsi`), and of Rust's `core`.
pub fn floating(name: &str) -> bool {
    if let Some(rest) = name.strip_prefix("__aeabi_") {
        let arithmetic =
            rest.starts_with('f') || rest.starts_with('d') || rest.starts_with("cf") || rest.starts_with("cd");
        return arithmetic || ["i2f", "i2d", "l2f", "l2d", "h2f"].iter().any(|tail| rest.ends_with(tail));
    }
    if let Some(rest) = name.strip_prefix("__") {
        return rest.contains("sf") || rest.contains("df") || rest.contains("hf");
    }
    ["7flt2dec", "7dec2flt", "3fmt5float", "3num3f32", "3num3f64"].iter().any(|part| name.contains(part))
}

/// Whether a symbol stands for an allocator, as Rust's `alloc` wants one.
pub fn allocating(name: &str) -> bool {
    // With or without the hash of a crate's own mangling: `__rust_alloc`, `_RNvCs..._7___rustc12___rust_alloc`.
    ["__rust_alloc", "__rust_realloc", "__rg_alloc", "5alloc5alloc"].iter().any(|part| name.contains(part))
}

/// Whether a symbol is on a path to a panic.
pub fn panicking(name: &str) -> bool {
    // Mangled path parts carry their length, so `9panicking` is the module and no part of another name.
    ["shaftwork_panic_reached", "9panicking", "rust_begin_unwind", "13unwrap_failed", "13expect_failed"]
        .iter()
        .any(|part| name.contains(part))
        || name.contains("slice_index_fail")
        || name.contains("_len_mismatch_fail")
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn tells_float_helpers_from_integer_helpers() {
        for name in [
            "__aeabi_fadd",
            "__aeabi_dmul",
            "__aeabi_ui2d",
            "__aeabi_l2f",
            "__aeabi_cfcmple",
            "__addsf3",
            "__fixdfsi",
            "__floatundisf",
        ] {
            assert!(floating(name), "{name}");
        }
        for name in [
            "__aeabi_uldivmod",
            "__aeabi_lmul",
            "__aeabi_idiv",
            "__aeabi_memcpy4",
            "__aeabi_llsl",
            "__udivmoddi4",
            "__multi3",
            "__sbss",
            "memcpy",
        ] {
            assert!(!floating(name), "{name}");
        }
    }

    #[test]
    fn tells_an_allocator_from_the_rest() {
        assert!(allocating("__rust_alloc"));
        assert!(allocating("_RNvCs691rhTbG0Ee_7___rustc12___rust_alloc"));
        assert!(allocating("_ZN5alloc5alloc18handle_alloc_error17h0123456789abcdefE"));
        assert!(!allocating("_ZN14shaftwork_core7monitor7Monitor6ingest17h0123456789abcdefE"));
    }

    #[test]
    fn tells_panics_from_the_rest() {
        assert!(panicking("_ZN4core9panicking11panic_const24panic_const_div_by_zero17h0123456789abcdefE"));
        assert!(panicking("_RNvNtCs1_4core9panicking9panic_fmt"));
        assert!(panicking("shaftwork_panic_reached"));
        assert!(!panicking("_ZN14shaftwork_core7monitor7Monitor6ingest17h0123456789abcdefE"));
    }
}
