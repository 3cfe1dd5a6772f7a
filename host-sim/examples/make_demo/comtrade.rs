//! The records of the demo: COMTRADE of revision 1999 with 16-bit codes, by the crate's own writer, taken
//! back as bytes so that they can be compared with those on disk.

use std::fs;

use shaftwork_sim::plant::sensor::Sensor;
use shaftwork_sim::synth::record::channels;
use shaftwork_sim::trace::write::{ComtradeWriter, WriteEncoding};
use tempfile::TempDir;

/// A record while it is written.
pub struct Record {
    channels: usize,
    sensor: Sensor,
    rate_hz: f64,
    data: Vec<[f64; 7]>,
}

impl Record {
    /// An empty record of the first `channels` (6 or 7) channels.
    pub fn new(channels: usize, sensor: &Sensor, rate_hz: f64) -> Self {
        let converters = [sensor.voltage, sensor.current, sensor.mass];
        assert!(converters.iter().all(|c| c.bits == 16), "the format has 16 bits");
        Self { channels, sensor: sensor.clone(), rate_hz, data: Vec::new() }
    }

    /// Adds a sample, as the converters read it.
    pub fn push(&mut self, reading: &[f64; 7]) {
        self.data.push(*reading);
    }

    /// The text of the `.cfg` and the bytes of the `.dat`.
    pub fn finish(self, station: &str, device: &str, frequency_hz: f64) -> (String, Vec<u8>) {
        self.write(station, device, frequency_hz).expect("a temporary folder takes a record")
    }

    fn write(self, station: &str, device: &str, frequency_hz: f64) -> anyhow::Result<(String, Vec<u8>)> {
        let folder = TempDir::new()?;
        let channels = &channels(&self.sensor)[..self.channels];
        let path = folder.path().join("record.cfg");
        let mut writer =
            ComtradeWriter::create(&path, station, channels, frequency_hz, self.rate_hz, WriteEncoding::Binary1999)?;
        writer.set_device(device);
        writer.set_start("02/03/2026,06:00:00.000000");
        for reading in &self.data {
            writer.frame(&reading[..self.channels])?;
        }
        writer.finish()?;
        Ok((fs::read_to_string(&path)?, fs::read(path.with_extension("dat"))?))
    }
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
