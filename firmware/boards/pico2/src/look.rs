//! The second look: the chip's own converter on the force lead, the sink's sense resistor and the reference.
//!
//! The pins' digital inputs are off while they are read (`Channel::new_pin` sees to it), which is what erratum E9 of the chip
//! asks for; that its stepping A2 leaks a few microamperes even so is in the error budget (hardware-notes/sense.md).

use crate::pins;
use celltriage_firmware::board::LookCodes;
use embassy_rp::Peri;
use embassy_rp::adc::{Adc, Blocking, Channel, Config};
use embassy_rp::gpio::Pull;
use embassy_rp::peripherals::ADC;

/// Conversions of each pin in one look, 2 us each.
const CONVERSIONS: u16 = 4;

/// The converter with its three pins.
pub struct Looker {
    adc: Adc<'static, Blocking>,
    force: Channel<'static>,
    current: Channel<'static>,
    reference: Channel<'static>,
}

impl Looker {
    /// Takes the converter and its pins.
    pub fn new(
        adc: Peri<'static, ADC>,
        force: Peri<'static, pins::Force>,
        current: Peri<'static, pins::SinkCurrent>,
        reference: Peri<'static, pins::Reference>,
    ) -> Self {
        Self {
            adc: Adc::new_blocking(adc, Config::default()),
            force: Channel::new_pin(force, Pull::None),
            current: Channel::new_pin(current, Pull::None),
            reference: Channel::new_pin(reference, Pull::None),
        }
    }

    /// Reads all three pins; `None` where a conversion has failed.
    pub fn look(&mut self) -> Option<LookCodes> {
        let force = mean(&mut self.adc, &mut self.force)?;
        let current = mean(&mut self.adc, &mut self.current)?;
        let reference = mean(&mut self.adc, &mut self.reference)?;
        Some(LookCodes { force, current, reference })
    }
}

fn mean(adc: &mut Adc<'static, Blocking>, pin: &mut Channel<'static>) -> Option<u16> {
    let mut sum = 0;
    for _ in 0..CONVERSIONS {
        // Codes of twelve bits: four of them fit.
        sum += adc.blocking_read(pin).ok()?;
    }
    Some(sum / CONVERSIONS)
}
