//! The feeder's speed, as a duty cycle or as a voltage for a current, and the tachometer's timer.

use core::convert::Infallible;

use embassy_stm32::Peri;
use embassy_stm32::dac::{DacChannel, Mode, Value};
use embassy_stm32::gpio::{OutputType, Pull};
use embassy_stm32::mode::Blocking;
use embassy_stm32::pac::timer::vals::FilterValue;
use embassy_stm32::peripherals::{DAC1, PA0, PA4, PB7, TIM4, TIM5};
use embassy_stm32::time::khz;
use embassy_stm32::timer::input_capture::CapturePin;
use embassy_stm32::timer::low_level::{CountingMode, InputCaptureMode, InputTISelection, Timer};
use embassy_stm32::timer::simple_pwm::{PwmPin, SimplePwm, SimplePwmChannel};
use embassy_stm32::timer::{Ch1, Channel};
use embedded_hal::pwm::{ErrorType, SetDutyCycle};
use shaftwork_app::drive::Speed;
use shaftwork_stm32g474::inputs::Edges;
use shaftwork_stm32g474::tacho::Edge;

/// The converter's highest code.
const DAC_FULL: u16 = 4_095;

/// What the drive's speed is given by.
pub enum SpeedOutput {
    /// 1 kHz, for a drive that takes a duty cycle.
    Duty(SimplePwmChannel<'static, TIM4>),
    /// 0 to the reference, for the stage that makes 0 to 20 mA of it.
    Voltage(DacChannel<'static, Blocking>),
}

impl SpeedOutput {
    /// What the drive takes; the other pin stays as a reset leaves it.
    pub fn new(
        takes: Speed,
        timer: Peri<'static, TIM4>,
        duty: Peri<'static, PB7>,
        dac: Peri<'static, DAC1>,
        voltage: Peri<'static, PA4>,
    ) -> Self {
        match takes {
            Speed::Duty => {
                let pin = PwmPin::new(duty, OutputType::PushPull);
                let timer = SimplePwm::new(timer, None, Some(pin), None, None, khz(1), CountingMode::EdgeAlignedUp);
                let mut channel = timer.split().ch2;
                channel.set_duty_cycle_fully_off();
                channel.enable();
                Self::Duty(channel)
            }
            Speed::LiveZero => {
                // Its buffer reaches neither 0 nor the reference: the stage's input and its 470 kΩ do without.
                let mut channel = DacChannel::new_blocking(dac, voltage);
                channel.set_mode(Mode::NormalExternalUnbuffered);
                channel.set(Value::Bit12Right(0));
                channel.enable();
                Self::Voltage(channel)
            }
        }
    }
}

impl ErrorType for SpeedOutput {
    type Error = Infallible;
}

impl SetDutyCycle for SpeedOutput {
    fn max_duty_cycle(&self) -> u16 {
        match self {
            Self::Duty(channel) => SetDutyCycle::max_duty_cycle(channel),
            Self::Voltage(_) => DAC_FULL,
        }
    }

    fn set_duty_cycle(&mut self, duty: u16) -> Result<(), Infallible> {
        match self {
            Self::Duty(channel) => SetDutyCycle::set_duty_cycle(channel, duty),
            Self::Voltage(channel) => {
                channel.set(Value::Bit12Right(duty.min(DAC_FULL)));
                Ok(())
            }
        }
    }
}

/// A timer that notes when the tachometer's pulses come. The converters' interrupt reads its count.
pub struct PulseTimer {
    timer: Timer<'static, TIM5>,
    _pin: CapturePin<'static, TIM5, Ch1>,
}

impl PulseTimer {
    /// Counts the processor's clock, through 32 bits; in the loop's sleep too.
    pub fn new(timer: Peri<'static, TIM5>, pin: Peri<'static, PA0>) -> Self {
        let pin = CapturePin::new(pin, Pull::Down);
        let timer = Timer::new(timer);
        timer.set_max_compare_value(u32::MAX);
        timer.set_input_ti_selection(Channel::Ch1, InputTISelection::Normal);
        timer.set_input_capture_filter(Channel::Ch1, FilterValue::FDTS_DIV32_N8); // 1.5 µs; the rest is the input's filter
        timer.set_input_capture_mode(Channel::Ch1, InputCaptureMode::Rising);
        timer.enable_channel(Channel::Ch1, true);
        timer.start();
        Self { timer, _pin: pin }
    }
}

impl Edges for PulseTimer {
    fn edge(&mut self) -> Edge {
        let status = self.timer.regs_gp32().sr().read();
        if !status.ccif(0) {
            return Edge::None;
        }
        let at = self.timer.get_capture_value(Channel::Ch1); // clears the flag
        if status.ccof(0) {
            self.timer.regs_gp32().sr().modify(|w| w.set_ccof(0, false));
            return Edge::Several;
        }
        Edge::At(at)
    }
}
