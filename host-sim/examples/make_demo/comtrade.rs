//! A COMTRADE record of revision 1999 with 16-bit binary data (IEEE C37.111-1999): a text `.cfg`, and a `.dat` with one
//! record a sample: number and time (us) as 32 bits each, then every channel as 16 bits, little-endian.

use shaftwork_sim::plant::sensor::{Converter, Sensor};

/// Name, phase and unit of the channels of a four-wire mill.
const CHANNELS: [(&str, &str, &str); 7] = [
    ("VA", "A", "V"),
    ("VB", "B", "V"),
    ("VC", "C", "V"),
    ("IA", "A", "A"),
    ("IB", "B", "A"),
    ("IC", "C", "A"),
    ("MASS", "", "kg"),
];

/// A record while it is written.
pub struct Record {
    channels: usize,
    converters: [Converter; 3],
    rate_hz: f64,
    samples: u32,
    data: Vec<u8>,
}

impl Record {
    /// An empty record of the first `channels` (6 or 7) channels.
    pub fn new(channels: usize, sensor: &Sensor, rate_hz: f64) -> Self {
        let converters = [sensor.voltage, sensor.current, sensor.mass];
        assert!(converters.iter().all(|c| c.bits == 16), "the format has 16 bits");
        Self { channels, converters, rate_hz, samples: 0, data: Vec::new() }
    }

    /// Adds a sample, as the converters read it.
    pub fn push(&mut self, reading: &[f64; 7]) {
        let t_us = (f64::from(self.samples) * 1e6 / self.rate_hz).round();
        self.samples += 1;
        self.data.extend(self.samples.to_le_bytes());
        // A record of an hour has 3.6e9 us at the most, within 32 bits.
        self.data.extend((t_us as u32).to_le_bytes());
        for (n, value) in reading[..self.channels].iter().enumerate() {
            // A reading is a whole number of counts, at most 32767 either way.
            let count = (value / self.converters[n / 3].step()).round() as i16;
            self.data.extend(count.to_le_bytes());
        }
    }

    /// The text of the `.cfg` and the bytes of the `.dat`.
    pub fn finish(self, station: &str, device: &str, frequency_hz: f64) -> (String, Vec<u8>) {
        let count = self.channels;
        let mut lines = vec![format!("{station},{device},1999"), format!("{count},{count}A,0D")];
        for (n, (name, phase, unit)) in CHANNELS[..count].iter().enumerate() {
            let converter = self.converters[n / 3];
            let (step, top) = (tidy(converter.step()), converter.top());
            lines.push(format!("{},{name},{phase},,{unit},{step},0,0,-{top},{top},1,1,P", n + 1));
        }
        let begin = "02/03/2026,06:00:00.000000";
        let rate = format!("{},{}", self.rate_hz, self.samples);
        lines.extend([format!("{frequency_hz}"), "1".into(), rate, begin.into(), begin.into()]);
        lines.extend(["BINARY".into(), "1".into(), String::new()]);
        (lines.join("\r\n"), self.data)
    }
}

/// A count's value without the last digits that only binary fractions bring.
fn tidy(step: f64) -> String {
    let text = format!("{step:.10}");
    text.trim_end_matches('0').to_owned()
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn a_sample_is_laid_out_as_the_standard_says() {
        let sensor = Sensor::sixteen_bits(655.34, 1474.515, 32.767);
        let mut record = Record::new(7, &sensor, 2500.0);
        record.push(&[0.0; 7]);
        record.push(&[0.02, -0.02, 655.34, -1474.515, 0.045, 0.0, 1.5]);
        let (cfg, dat) = record.finish("HERE", "MILL", 50.0);
        assert_eq!(dat.len(), 44);
        assert_eq!(dat[22..30], [2, 0, 0, 0, 0x90, 0x01, 0, 0]);
        assert_eq!(dat[30..44], [1, 0, 0xff, 0xff, 0xff, 0x7f, 0x01, 0x80, 1, 0, 0, 0, 0xdc, 0x05]);
        let lines: Vec<&str> = cfg.split("\r\n").collect();
        assert_eq!(lines[1], "7,7A,0D");
        assert_eq!(lines[2], "1,VA,A,,V,0.02,0,0,-32767,32767,1,1,P");
        assert_eq!(lines[8], "7,MASS,,,kg,0.001,0,0,-32767,32767,1,1,P");
        assert_eq!(lines[11], "2500,2");
        assert_eq!(lines.last(), Some(&""));
    }
}
