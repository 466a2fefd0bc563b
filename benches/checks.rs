//! CRC throughput against the crc crate's fastest table implementation called directly.
//! Target: within 10 %.

// A bench talks to whoever runs it.
#![allow(clippy::print_stdout, clippy::unwrap_used)]

mod support;

use crc::{Crc, Table};
use readproof::check::by_name;
use support::{ratio, shortest};

fn main() {
    let bytes: Vec<u8> = (0..1_u32 << 20).map(|i| (i.wrapping_mul(2_654_435_761) >> 24) as u8).collect();
    println!("{:<16} {:>12} {:>12} {:>7}", "1 MiB of", "ours MB/s", "direct MB/s", "ratio");
    macro_rules! row {
        ($name:literal, $register:ty, $constant:ident) => {
            let direct = Crc::<$register, Table<16>>::new(&crc::$constant);
            let ours = by_name($name).unwrap();
            // In turns, so that both meet the same machine.
            let (mut a, mut b) = (std::time::Duration::MAX, std::time::Duration::MAX);
            for _ in 0..10 {
                a = a.min(shortest(3, || ours.compute([bytes.as_slice()])));
                b = b.min(shortest(3, || direct.checksum(&bytes)));
            }
            let rate = |time: std::time::Duration| bytes.len() as f64 / 1e6 / time.as_secs_f64();
            println!("{:<16} {:>12.0} {:>12.0} {:>7.2}", $name, rate(a), rate(b), ratio(a, b));
        };
    }
    row!("CRC-8/SMBUS", u8, CRC_8_SMBUS);
    row!("CRC-16/XMODEM", u16, CRC_16_XMODEM);
    row!("CRC-16/ARC", u16, CRC_16_ARC);
    row!("CRC-32/ISO-HDLC", u32, CRC_32_ISO_HDLC);
    row!("CRC-32/MPEG-2", u32, CRC_32_MPEG_2);
    row!("CRC-64/XZ", u64, CRC_64_XZ);
}
