//! The one list of named algorithms: every CRC of the catalogue and the sums of the trade.

use std::borrow::Cow;
use std::sync::LazyLock;

use super::{Algorithm, CrcParameters, Finish, Method, Operation, SumParameters, parameters};
use crate::error::Refusal;
use crate::notation::nearest;
use crate::span::ByteOrder;

/// One row of the list.
#[derive(Debug, Clone)]
pub struct Listed {
    /// How it is computed, and its name.
    pub algorithm: Algorithm,
    /// Other names it goes by.
    pub aliases: Vec<&'static str>,
    /// The result over the nine characters `123456789`: the catalogue's published value for a CRC; for a sum,
    /// which nobody publishes in one place, `None`.
    pub published: Option<u128>,
}

/// Every named algorithm: CRCs by width as the catalogue has them, then sums.
#[must_use]
pub fn catalogue() -> &'static [Listed] {
    static ALL: LazyLock<Vec<Listed>> = LazyLock::new(|| crcs().into_iter().chain(sums()).collect());
    &ALL
}

/// The algorithm that `text` names: a name or alias in any case, or parameters as in
/// `CRC(width: 16, poly: 0x1021, init: 0xFFFF, refin: false, refout: false, xorout: 0)` and
/// `SUM(bits: 16, word: 16, order: Little, to: 0xBABA)`.
///
/// # Errors
/// When nothing has that name, with the nearest one that exists; or what is wrong with the parameters.
pub fn by_name(text: &str) -> Result<Algorithm, Refusal> {
    let text = text.trim();
    if text.ends_with(')') {
        return parameters::read(text);
    }
    let same = |name: &str| name.eq_ignore_ascii_case(text);
    catalogue()
        .iter()
        .find(|listed| same(&listed.algorithm.name) || listed.aliases.iter().any(|alias| same(alias)))
        .map(|listed| listed.algorithm.clone())
        .ok_or_else(|| unknown(text))
}

fn unknown(text: &str) -> Refusal {
    let names = catalogue()
        .iter()
        .flat_map(|listed| listed.aliases.iter().copied().chain([listed.algorithm.name.as_ref()]));
    let near = nearest(text, names).map_or(String::new(), |name| format!("did you mean {name}? "));
    Refusal {
        what: format!("no check is called \"{text}\""),
        advice: format!(
            "{near}`readproof checks` lists the names; parameters are written CRC(width: 16, poly: 0x1021, \
             init: 0xFFFF, refin: false, refout: false, xorout: 0)"
        ),
    }
}

/// An algorithm of the `crc` crate, whatever the type of its register.
trait Published {
    fn listed(&self) -> (CrcParameters, u128);
}

macro_rules! published {
    ($($register:ty),*) => {$(
        impl Published for crc_catalog::Algorithm<$register> {
            fn listed(&self) -> (CrcParameters, u128) {
                let parameters = CrcParameters {
                    width: self.width,
                    poly: u128::from(self.poly),
                    init: u128::from(self.init),
                    refin: self.refin,
                    refout: self.refout,
                    xorout: u128::from(self.xorout),
                };
                (parameters, u128::from(self.check))
            }
        }
    )*};
}

published!(u8, u16, u32, u64, u128);

/// The catalogue gives constants and no list of them; a test compares this list with the crate's source.
macro_rules! crc_catalogue {
    ($($name:literal => $constant:ident,)*) => {
        /// Name and parameters of every CRC that the crate's catalogue has.
        const CRCS: &[(&str, &(dyn Published + Sync))] = &[$(($name, &crc_catalog::$constant),)*];
    };
}

crc_catalogue! {
    "CRC-3/GSM" => CRC_3_GSM,
    "CRC-3/ROHC" => CRC_3_ROHC,
    "CRC-4/G-704" => CRC_4_G_704,
    "CRC-4/INTERLAKEN" => CRC_4_INTERLAKEN,
    "CRC-5/EPC-C1G2" => CRC_5_EPC_C1G2,
    "CRC-5/G-704" => CRC_5_G_704,
    "CRC-5/USB" => CRC_5_USB,
    "CRC-6/CDMA2000-A" => CRC_6_CDMA2000_A,
    "CRC-6/CDMA2000-B" => CRC_6_CDMA2000_B,
    "CRC-6/DARC" => CRC_6_DARC,
    "CRC-6/G-704" => CRC_6_G_704,
    "CRC-6/GSM" => CRC_6_GSM,
    "CRC-7/MMC" => CRC_7_MMC,
    "CRC-7/ROHC" => CRC_7_ROHC,
    "CRC-7/UMTS" => CRC_7_UMTS,
    "CRC-8/AUTOSAR" => CRC_8_AUTOSAR,
    "CRC-8/BLUETOOTH" => CRC_8_BLUETOOTH,
    "CRC-8/CDMA2000" => CRC_8_CDMA2000,
    "CRC-8/DARC" => CRC_8_DARC,
    "CRC-8/DVB-S2" => CRC_8_DVB_S2,
    "CRC-8/GSM-A" => CRC_8_GSM_A,
    "CRC-8/GSM-B" => CRC_8_GSM_B,
    "CRC-8/HITAG" => CRC_8_HITAG,
    "CRC-8/I-432-1" => CRC_8_I_432_1,
    "CRC-8/I-CODE" => CRC_8_I_CODE,
    "CRC-8/LTE" => CRC_8_LTE,
    "CRC-8/MAXIM-DOW" => CRC_8_MAXIM_DOW,
    "CRC-8/MIFARE-MAD" => CRC_8_MIFARE_MAD,
    "CRC-8/NRSC-5" => CRC_8_NRSC_5,
    "CRC-8/OPENSAFETY" => CRC_8_OPENSAFETY,
    "CRC-8/ROHC" => CRC_8_ROHC,
    "CRC-8/SAE-J1850" => CRC_8_SAE_J1850,
    "CRC-8/SMBUS" => CRC_8_SMBUS,
    "CRC-8/TECH-3250" => CRC_8_TECH_3250,
    "CRC-8/WCDMA" => CRC_8_WCDMA,
    "CRC-10/ATM" => CRC_10_ATM,
    "CRC-10/CDMA2000" => CRC_10_CDMA2000,
    "CRC-10/GSM" => CRC_10_GSM,
    "CRC-11/FLEXRAY" => CRC_11_FLEXRAY,
    "CRC-11/UMTS" => CRC_11_UMTS,
    "CRC-12/CDMA2000" => CRC_12_CDMA2000,
    "CRC-12/DECT" => CRC_12_DECT,
    "CRC-12/GSM" => CRC_12_GSM,
    "CRC-12/UMTS" => CRC_12_UMTS,
    "CRC-13/BBC" => CRC_13_BBC,
    "CRC-14/DARC" => CRC_14_DARC,
    "CRC-14/GSM" => CRC_14_GSM,
    "CRC-15/CAN" => CRC_15_CAN,
    "CRC-15/MPT1327" => CRC_15_MPT1327,
    "CRC-16/ARC" => CRC_16_ARC,
    "CRC-16/CDMA2000" => CRC_16_CDMA2000,
    "CRC-16/CMS" => CRC_16_CMS,
    "CRC-16/DDS-110" => CRC_16_DDS_110,
    "CRC-16/DECT-R" => CRC_16_DECT_R,
    "CRC-16/DECT-X" => CRC_16_DECT_X,
    "CRC-16/DNP" => CRC_16_DNP,
    "CRC-16/EN-13757" => CRC_16_EN_13757,
    "CRC-16/GENIBUS" => CRC_16_GENIBUS,
    "CRC-16/GSM" => CRC_16_GSM,
    "CRC-16/IBM-3740" => CRC_16_IBM_3740,
    "CRC-16/IBM-SDLC" => CRC_16_IBM_SDLC,
    "CRC-16/ISO-IEC-14443-3-A" => CRC_16_ISO_IEC_14443_3_A,
    "CRC-16/KERMIT" => CRC_16_KERMIT,
    "CRC-16/LJ1200" => CRC_16_LJ1200,
    "CRC-16/M17" => CRC_16_M17,
    "CRC-16/MAXIM-DOW" => CRC_16_MAXIM_DOW,
    "CRC-16/MCRF4XX" => CRC_16_MCRF4XX,
    "CRC-16/MODBUS" => CRC_16_MODBUS,
    "CRC-16/NRSC-5" => CRC_16_NRSC_5,
    "CRC-16/OPENSAFETY-A" => CRC_16_OPENSAFETY_A,
    "CRC-16/OPENSAFETY-B" => CRC_16_OPENSAFETY_B,
    "CRC-16/PROFIBUS" => CRC_16_PROFIBUS,
    "CRC-16/RIELLO" => CRC_16_RIELLO,
    "CRC-16/SPI-FUJITSU" => CRC_16_SPI_FUJITSU,
    "CRC-16/T10-DIF" => CRC_16_T10_DIF,
    "CRC-16/TELEDISK" => CRC_16_TELEDISK,
    "CRC-16/TMS37157" => CRC_16_TMS37157,
    "CRC-16/UMTS" => CRC_16_UMTS,
    "CRC-16/USB" => CRC_16_USB,
    "CRC-16/XMODEM" => CRC_16_XMODEM,
    "CRC-17/CAN-FD" => CRC_17_CAN_FD,
    "CRC-21/CAN-FD" => CRC_21_CAN_FD,
    "CRC-24/BLE" => CRC_24_BLE,
    "CRC-24/FLEXRAY-A" => CRC_24_FLEXRAY_A,
    "CRC-24/FLEXRAY-B" => CRC_24_FLEXRAY_B,
    "CRC-24/INTERLAKEN" => CRC_24_INTERLAKEN,
    "CRC-24/LTE-A" => CRC_24_LTE_A,
    "CRC-24/LTE-B" => CRC_24_LTE_B,
    "CRC-24/OPENPGP" => CRC_24_OPENPGP,
    "CRC-24/OS-9" => CRC_24_OS_9,
    "CRC-30/CDMA" => CRC_30_CDMA,
    "CRC-31/PHILIPS" => CRC_31_PHILIPS,
    "CRC-32/AIXM" => CRC_32_AIXM,
    "CRC-32/AUTOSAR" => CRC_32_AUTOSAR,
    "CRC-32/BASE91-D" => CRC_32_BASE91_D,
    "CRC-32/BZIP2" => CRC_32_BZIP2,
    "CRC-32/CD-ROM-EDC" => CRC_32_CD_ROM_EDC,
    "CRC-32/CKSUM" => CRC_32_CKSUM,
    "CRC-32/ISCSI" => CRC_32_ISCSI,
    "CRC-32/ISO-HDLC" => CRC_32_ISO_HDLC,
    "CRC-32/JAMCRC" => CRC_32_JAMCRC,
    "CRC-32/MEF" => CRC_32_MEF,
    "CRC-32/MPEG-2" => CRC_32_MPEG_2,
    "CRC-32/XFER" => CRC_32_XFER,
    "CRC-40/GSM" => CRC_40_GSM,
    "CRC-64/ECMA-182" => CRC_64_ECMA_182,
    "CRC-64/GO-ISO" => CRC_64_GO_ISO,
    "CRC-64/MS" => CRC_64_MS,
    "CRC-64/NVME" => CRC_64_NVME,
    "CRC-64/REDIS" => CRC_64_REDIS,
    "CRC-64/WE" => CRC_64_WE,
    "CRC-64/XZ" => CRC_64_XZ,
    "CRC-82/DARC" => CRC_82_DARC,
}

/// Other names of the open catalogue of parametrised CRC algorithms (<https://reveng.sourceforge.io/crc-catalogue/>).
pub(super) const ALIASES: &[(&str, &str)] = &[
    ("CRC-4/ITU", "CRC-4/G-704"),
    ("CRC-5/EPC", "CRC-5/EPC-C1G2"),
    ("CRC-5/ITU", "CRC-5/G-704"),
    ("CRC-6/ITU", "CRC-6/G-704"),
    ("CRC-7", "CRC-7/MMC"),
    ("CRC-8", "CRC-8/SMBUS"),
    ("CRC-8/ITU", "CRC-8/I-432-1"),
    ("CRC-8/MAXIM", "CRC-8/MAXIM-DOW"),
    ("DOW-CRC", "CRC-8/MAXIM-DOW"),
    ("CRC-8/AES", "CRC-8/TECH-3250"),
    ("CRC-8/EBU", "CRC-8/TECH-3250"),
    ("CRC-10", "CRC-10/ATM"),
    ("CRC-10/I-610", "CRC-10/ATM"),
    ("CRC-11", "CRC-11/FLEXRAY"),
    ("CRC-12/3GPP", "CRC-12/UMTS"),
    ("X-CRC-12", "CRC-12/DECT"),
    ("CRC-15", "CRC-15/CAN"),
    ("ARC", "CRC-16/ARC"),
    ("CRC-16", "CRC-16/ARC"),
    ("CRC-16/LHA", "CRC-16/ARC"),
    ("CRC-IBM", "CRC-16/ARC"),
    ("R-CRC-16", "CRC-16/DECT-R"),
    ("X-CRC-16", "CRC-16/DECT-X"),
    ("CRC-16/DARC", "CRC-16/GENIBUS"),
    ("CRC-16/EPC", "CRC-16/GENIBUS"),
    ("CRC-16/EPC-C1G2", "CRC-16/GENIBUS"),
    ("CRC-16/I-CODE", "CRC-16/GENIBUS"),
    ("CRC-16/AUTOSAR", "CRC-16/IBM-3740"),
    ("CRC-16/CCITT-FALSE", "CRC-16/IBM-3740"),
    ("CRC-16/ISO-HDLC", "CRC-16/IBM-SDLC"),
    ("CRC-16/ISO-IEC-14443-3-B", "CRC-16/IBM-SDLC"),
    ("CRC-16/X-25", "CRC-16/IBM-SDLC"),
    ("CRC-B", "CRC-16/IBM-SDLC"),
    ("X-25", "CRC-16/IBM-SDLC"),
    ("CRC-A", "CRC-16/ISO-IEC-14443-3-A"),
    ("CRC-16/BLUETOOTH", "CRC-16/KERMIT"),
    ("CRC-16/CCITT", "CRC-16/KERMIT"),
    ("CRC-16/CCITT-TRUE", "CRC-16/KERMIT"),
    ("CRC-16/V-41-LSB", "CRC-16/KERMIT"),
    ("CRC-CCITT", "CRC-16/KERMIT"),
    ("KERMIT", "CRC-16/KERMIT"),
    ("CRC-16/MAXIM", "CRC-16/MAXIM-DOW"),
    ("MODBUS", "CRC-16/MODBUS"),
    ("CRC-16/IEC-61158-2", "CRC-16/PROFIBUS"),
    ("CRC-16/AUG-CCITT", "CRC-16/SPI-FUJITSU"),
    ("CRC-16/BUYPASS", "CRC-16/UMTS"),
    ("CRC-16/VERIFONE", "CRC-16/UMTS"),
    ("CRC-16/ACORN", "CRC-16/XMODEM"),
    ("CRC-16/LTE", "CRC-16/XMODEM"),
    ("CRC-16/V-41-MSB", "CRC-16/XMODEM"),
    ("XMODEM", "CRC-16/XMODEM"),
    ("ZMODEM", "CRC-16/XMODEM"),
    ("CRC-24", "CRC-24/OPENPGP"),
    ("CRC-32", "CRC-32/ISO-HDLC"),
    ("CRC-32/ADCCP", "CRC-32/ISO-HDLC"),
    ("CRC-32/V-42", "CRC-32/ISO-HDLC"),
    ("CRC-32/XZ", "CRC-32/ISO-HDLC"),
    ("CRC-32/AAL5", "CRC-32/BZIP2"),
    ("CRC-32/DECT-B", "CRC-32/BZIP2"),
    ("B-CRC-32", "CRC-32/BZIP2"),
    ("CRC-32Q", "CRC-32/AIXM"),
    ("CRC-32D", "CRC-32/BASE91-D"),
    ("CRC-32/POSIX", "CRC-32/CKSUM"),
    ("CRC-32/BASE91-C", "CRC-32/ISCSI"),
    ("CRC-32/CASTAGNOLI", "CRC-32/ISCSI"),
    ("CRC-32/INTERLAKEN", "CRC-32/ISCSI"),
    ("CRC-32C", "CRC-32/ISCSI"),
    ("CRC-64", "CRC-64/ECMA-182"),
    ("CRC-64/GO-ECMA", "CRC-64/XZ"),
    ("RFC-1071", "INTERNET"),
    ("LRC", "SUM-8/TWOS"),
    ("BCC", "XOR-8"),
];

fn aliases(name: &str) -> Vec<&'static str> {
    ALIASES.iter().filter(|(_, of)| *of == name).map(|(alias, _)| *alias).collect()
}

fn crcs() -> Vec<Listed> {
    CRCS.iter()
        .map(|&(name, published)| {
            let (parameters, check) = published.listed();
            let algorithm = Algorithm { name: Cow::Borrowed(name), method: Method::Crc(parameters) };
            Listed { algorithm, aliases: aliases(name), published: Some(check) }
        })
        .collect()
}

/// Sums by system: operation and bits, the word where it is not a byte (`16BE`: 16 bits, big-endian), then what
/// becomes of the sum. The names are ours; the trade has none that everybody shares.
fn sums() -> impl Iterator<Item = Listed> {
    const WORDS: &[(u8, u8, ByteOrder)] = &[
        (8, 8, ByteOrder::Big),
        (16, 8, ByteOrder::Big),
        (16, 16, ByteOrder::Big),
        (16, 16, ByteOrder::Little),
        (32, 8, ByteOrder::Big),
        (32, 16, ByteOrder::Big),
        (32, 16, ByteOrder::Little),
        (32, 32, ByteOrder::Big),
        (32, 32, ByteOrder::Little),
    ];
    let words = |operation: Operation| {
        let full = operation != Operation::Add;
        WORDS.iter().copied().filter(move |&(bits, word, _)| !full || bits == word).flat_map(
            move |(bits, word, order)| {
                let ones = Finish::To(super::ones(u32::from(bits)) as u64);
                [Finish::Plain, Finish::To(0), ones]
                    .into_iter()
                    // Combined with 0, or missing to 0 where zero has two forms, is nothing new.
                    .filter(move |&finish| operation == Operation::Add || finish != Finish::To(0))
                    .map(move |finish| SumParameters { operation, bits, word, order, init: 0, finish })
            },
        )
    };
    let named = [
        ("FLETCHER-16", Method::Fletcher(16)),
        ("FLETCHER-32", Method::Fletcher(32)),
        ("FLETCHER-64", Method::Fletcher(64)),
        ("ADLER-32", Method::Adler32),
        ("BSD-SUM", Method::BsdSum),
        ("SYSV-SUM", Method::SystemVSum),
    ]
    .map(|(name, method)| (Cow::Borrowed(name), method));
    [Operation::Add, Operation::AddCarry, Operation::Xor]
        .into_iter()
        .flat_map(words)
        .map(|sum| (Cow::Owned(sum_name(sum)), Method::Sum(sum)))
        .chain(named)
        .map(|(name, method)| {
            let aliases = aliases(&name);
            Listed { algorithm: Algorithm { name, method }, aliases, published: None }
        })
}

fn sum_name(sum: SumParameters) -> String {
    let SumParameters { operation, bits, word, order, finish, .. } = sum;
    if (operation, word, order) == (Operation::AddCarry, 16, ByteOrder::Big) && finish != Finish::Plain {
        return "INTERNET".to_owned();
    }
    let order = match order {
        ByteOrder::Big => "BE",
        ByteOrder::Little => "LE",
    };
    let operation = match operation {
        Operation::Xor => "XOR",
        Operation::AddCarry => "CARRY",
        Operation::Add => "SUM",
    };
    let word = if word == 8 { String::new() } else { format!("/{word}{order}") };
    let finish = match finish {
        Finish::Plain => "",
        Finish::To(0) => "/TWOS",
        Finish::To(_) => "/ONES",
    };
    format!("{operation}-{bits}{word}{finish}")
}
