//! The four converters, their timer, and the interrupt that makes frames of what they give.
//!
//! All begin a round at the same edge of the timer and take as long; the first one's end of sequence interrupts. The HAL sets them up;
//! only the oversampling of injected conversions and the flag that a round is complete are registers.

use core::cell::RefCell;

use critical_section::Mutex;
use embassy_stm32::adc::{
    Adc, AdcChannel, AdcConfig, AnyAdcChannel, Exten, InjectedAdc, InjectedTrigger, Instance, SampleTime,
};
use embassy_stm32::peripherals::{ADC1, ADC2, ADC3, ADC4, PA6, PA7, PB1, PB12, PB13, PB14, PC0, PC1, TIM2};
use embassy_stm32::timer::low_level::{MasterMode, Timer};
use embassy_stm32::triggers::TIM2_TRGO;
use embassy_stm32::{Peri, interrupt, pac};
use shaftwork_app::blocks::{Blocks, Filler, Taker};
use shaftwork_core::Frame;
use shaftwork_stm32g474::timing::{self, Numbers};
use static_cell::ConstStaticCell;

use crate::faults;

static BLOCKS: ConstStaticCell<Blocks<{ timing::QUEUE }>> = ConstStaticCell::new(Blocks::new());
static ROUNDS: Mutex<RefCell<Option<Rounds>>> = Mutex::new(RefCell::new(None));

/// The pins, in the order of the sequences.
pub struct Inlets {
    /// First converter.
    pub va: Peri<'static, PC0>,
    /// The same, second in its sequence.
    pub vb: Peri<'static, PC1>,
    /// Second converter.
    pub ia: Peri<'static, PA6>,
    /// The same, second in its sequence.
    pub ib: Peri<'static, PA7>,
    /// Third converter.
    pub vc: Peri<'static, PB1>,
    /// The same: the feeder's speed by hand.
    pub hand: Peri<'static, PB13>,
    /// Fourth converter.
    pub ic: Peri<'static, PB12>,
    /// The same: half the reference, as the amplifiers of the voltages get it.
    pub half: Peri<'static, PB14>,
}

/// What is sampled beside the frame, as the converters give it.
#[derive(Clone, Copy)]
pub struct Watched {
    /// The feeder's speed by hand.
    pub hand: u16,
    /// Half the reference.
    pub half: u16,
}

/// What the interrupt owns.
struct Rounds {
    timer: Timer<'static, TIM2>,
    filler: Filler<'static>,
    first: InjectedAdc<'static, ADC1, 2>,
    second: InjectedAdc<'static, ADC2, 2>,
    third: InjectedAdc<'static, ADC3, 2>,
    fourth: InjectedAdc<'static, ADC4, 2>,
    watched: Watched,
    numbers: Numbers,
    /// A converter missed a round: nothing is believed any more.
    broken: bool,
}

/// What was sampled beside the last frame.
pub fn watched() -> Watched {
    let nothing = Watched { hand: 0, half: 0 };
    critical_section::with(|cs| ROUNDS.borrow_ref(cs).as_ref().map_or(nothing, |rounds| rounds.watched))
}

/// Sets all up and begins. The tachometer's timer must count: it numbers the rounds.
pub fn start(
    rate_mhz: u32,
    timer: Peri<'static, TIM2>,
    (first, second, third, fourth): (
        Peri<'static, ADC1>,
        Peri<'static, ADC2>,
        Peri<'static, ADC3>,
        Peri<'static, ADC4>,
    ),
    at: Inlets,
) -> Taker<'static> {
    let (filler, taker) = BLOCKS.take().split();
    let power = timing::oversampling(rate_mhz);
    let timer = Timer::new(timer);
    timer.set_master_mode(MasterMode::UPDATE);
    timer.set_max_compare_value(timing::ticks(rate_mhz) - 1); // at 16 kHz at least 10 624
    let rounds = Rounds {
        timer,
        filler,
        first: converter(first, pac::ADC1, power, [at.va.degrade_adc(), at.vb.degrade_adc()], true),
        second: converter(second, pac::ADC2, power, [at.ia.degrade_adc(), at.ib.degrade_adc()], false),
        third: converter(third, pac::ADC3, power, [at.vc.degrade_adc(), at.hand.degrade_adc()], false),
        fourth: converter(fourth, pac::ADC4, power, [at.ic.degrade_adc(), at.half.degrade_adc()], false),
        watched: Watched { hand: 0, half: 0x8000 },
        numbers: Numbers::new(timing::ticks(rate_mhz)),
        broken: false,
    };
    faults::unmask_converters();
    critical_section::with(|cs| ROUNDS.borrow_ref_mut(cs).insert(rounds).timer.start());
    taker
}

/// A converter that waits for the timer's edges, then takes two channels, 2^power conversions of each.
fn converter<T>(
    adc: Peri<'static, T>,
    registers: pac::adc::Adc,
    power: u8,
    channels: [AnyAdcChannel<'static, T>; 2],
    interrupts: bool,
) -> InjectedAdc<'static, T, 2>
where
    T: Instance<Regs = pac::adc::Adc>,
    TIM2_TRGO: InjectedTrigger<T>,
{
    // The register's 0 is 2 conversions; shifted so that the result has 16 bits.
    let config =
        AdcConfig { oversampling_ratio: Some(power - 1), oversampling_shift: Some(power - 4), ..AdcConfig::default() };
    let adc = Adc::new(adc, config);
    registers.cfgr2().modify(|w| w.set_jovse(true));
    let sequence = channels.map(|channel| (channel, SampleTime::CYCLES47_5));
    adc.setup_injected_conversions(sequence, TIM2_TRGO, Exten::RISING_EDGE, interrupts)
}

/// The first converter's round is complete.
///
/// The other three end within two cycles of their clock (47 ns) of it, for each synchronises the edge by itself; the way into this
/// function takes longer. So all flags are set, or a converter does not work: then no frame comes any more, the source falls silent, the
/// outputs go into the safe state, and the watchdog, which is fed by blocks, starts all anew. A round that this function misses is a leap
/// of its number, and a gap: a round is 250 µs at 4 kHz, 62 µs at 16 kHz, and nothing switches interrupts off for longer than it takes
/// to copy a block.
#[interrupt]
fn ADC1_2() {
    critical_section::with(|cs| {
        let mut rounds = ROUNDS.borrow_ref_mut(cs);
        let Some(rounds) = rounds.as_mut() else { return };
        let complete = [pac::ADC1, pac::ADC2, pac::ADC3, pac::ADC4].iter().all(|adc| adc.isr().read().jeos());
        let number = rounds.numbers.next(pac::TIM5.cnt().read());
        let [va, vb] = rounds.first.read_injected_samples();
        let [ia, ib] = rounds.second.read_injected_samples();
        let [vc, hand] = rounds.third.read_injected_samples();
        let [ic, half] = rounds.fourth.read_injected_samples();
        rounds.watched = Watched { hand, half };
        rounds.broken |= !complete;
        if !rounds.broken {
            rounds.filler.numbered(number, Frame([va, vb, vc, ia, ib, ic].map(timing::code)));
        }
    });
}
