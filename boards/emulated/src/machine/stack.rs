//! How deep the stack has been: painted before the work, and looked at after it.

use core::hint::black_box;

/// What nothing leaves by chance.
const PAINT: u32 = 0x5af7_3c19;
/// Bytes below a local that the painting function itself may use.
const OWN: usize = 256;

#[allow(unsafe_code)] // the linker's names
unsafe extern "C" {
    /// The end of what is static: the stack may grow down to it.
    static __ebss: u32;
    /// The stack's upper end, from which it grows down.
    static _stack_start: u32;
}

fn bounds() -> (usize, usize) {
    ((&raw const __ebss).addr().next_multiple_of(4), (&raw const _stack_start).addr())
}

/// Paints what is free now.
#[inline(never)]
pub fn paint() {
    let local = 0_u32;
    let here = (&raw const *black_box(&local)).addr();
    for at in (bounds().0..here.saturating_sub(OWN)).step_by(4) {
        // SAFETY: between the end of what is static and this function's frame, with room for the latter, nothing lives; aligned.
        #[allow(unsafe_code)]
        unsafe {
            core::ptr::with_exposed_provenance_mut::<u32>(at).write_volatile(PAINT);
        }
    }
}

/// The most bytes of stack since, what calls [`paint`] included.
pub fn deepest() -> usize {
    let (low, high) = bounds();
    high - low - untouched()
}

/// Bytes between what is static and the deepest that the stack has been since.
pub fn untouched() -> usize {
    let (low, high) = bounds();
    let painted = (low..high).step_by(4).take_while(|at| {
        // SAFETY: the same memory, aligned; reading it as bits is sound whatever is there.
        #[allow(unsafe_code)]
        unsafe {
            core::ptr::with_exposed_provenance::<u32>(*at).read_volatile() == PAINT
        }
    });
    4 * painted.count()
}
