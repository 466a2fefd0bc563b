//! Check values against published ones and against independent implementations.

use proptest::prelude::*;

use super::*;

const NINE: &[u8] = b"123456789";

#[test]
fn every_crc_gives_its_published_value_whole_and_split_at_every_place() {
    let mut seen = 0;
    for listed in catalogue() {
        let Some(published) = listed.published else { continue };
        for split in 0..=NINE.len() {
            let (head, tail) = NINE.split_at(split);
            assert_eq!(listed.algorithm.compute([head, tail]), published, "{} at {split}", listed.algorithm);
        }
        seen += 1;
    }
    assert_eq!(seen, 113);
}

#[test]
fn the_list_has_every_constant_of_the_crates_catalogue() {
    // The crate's own source is the list to compare with; a machine that builds offline from elsewhere may not
    // have it unpacked, then the count in the test above has to do.
    let home = std::env::var_os("CARGO_HOME")
        .map(std::path::PathBuf::from)
        .or_else(|| Some(std::path::PathBuf::from(std::env::var_os("HOME")?).join(".cargo")));
    let lock = std::fs::read_to_string("Cargo.lock").unwrap();
    let version =
        lock.split("name = \"crc-catalog\"\nversion = \"").nth(1).and_then(|rest| rest.split('"').next());
    let source = home
        .and_then(|home| std::fs::read_dir(home.join("registry/src")).ok())
        .into_iter()
        .flatten()
        .flatten()
        .find_map(|index| {
            let path = format!("crc-catalog-{}/src/algorithm.rs", version.unwrap());
            std::fs::read_to_string(index.path().join(path)).ok()
        });
    let Some(source) = source else {
        println!("the source of crc-catalog is not at hand; its list was not compared");
        return;
    };
    let names: Vec<&str> =
        source.split("/// # [`").skip(1).filter_map(|rest| rest.split('`').next()).collect();
    assert!(names.len() > 100);
    for name in names {
        assert!(catalogue().iter().any(|listed| listed.algorithm.name == name), "{name} is missing");
    }
}

#[test]
fn names_and_aliases_are_unique_and_lead_back_to_their_algorithm() {
    let mut names: Vec<String> = Vec::new();
    for listed in catalogue() {
        for name in listed.aliases.iter().copied().chain([listed.algorithm.name.as_ref()]) {
            assert_eq!(by_name(name).unwrap(), listed.algorithm);
            assert_eq!(by_name(&name.to_lowercase()).unwrap(), listed.algorithm);
            names.push(name.to_uppercase());
        }
    }
    let all = names.len();
    assert_eq!(all, catalogue().len() + super::catalogue::ALIASES.len(), "an alias is that of no algorithm");
    names.sort_unstable();
    names.dedup();
    assert_eq!(names.len(), all, "a name is used twice");
}

#[test]
fn sums_over_the_nine_digits_are_those_worked_by_hand() {
    // From the definitions: 0x31 + … + 0x39 = 0x1DD; words 3132 3334 3536 3738 39(00).
    for (name, value) in [
        ("SUM-8", 0xDD),
        ("SUM-8/TWOS", 0x23),
        ("SUM-8/ONES", 0x22),
        ("SUM-16", 0x1DD),
        ("SUM-16/TWOS", 0xFE23),
        ("SUM-32", 0x1DD),
        ("SUM-32/ONES", 0xFFFF_FE22),
        ("SUM-16/16BE", 0x09D4),
        ("SUM-16/16LE", 0xD509),
        ("SUM-32/16BE", 0x1_09D4),
        ("SUM-32/16LE", 0xD509),
        ("SUM-32/32BE", 0x9F68_6A6C),
        ("SUM-32/32LE", 0x6C6A_689F),
        ("CARRY-8", 0xDE),
        ("CARRY-16/16BE", 0x09D5),
        ("INTERNET", 0xF62A),
        ("XOR-8", 0x31),
        ("XOR-8/ONES", 0xCE),
        ("XOR-16/16BE", 0x3908),
        ("XOR-16/16LE", 0x0839),
        ("SYSV-SUM", 0x1DD),
    ] {
        assert_eq!(by_name(name).unwrap().compute([NINE]), value, "{name}");
    }
}

#[test]
fn sums_agree_with_published_examples() {
    let of = |name: &str, bytes: &[u8]| by_name(name).unwrap().compute([bytes]);
    // RFC 1071, section 3: 00 01 f2 03 f4 f5 f6 f7 sums to ddf2 with end-around carry.
    let rfc = [0x00, 0x01, 0xF2, 0x03, 0xF4, 0xF5, 0xF6, 0xF7];
    assert_eq!(of("CARRY-16/16BE", &rfc), 0xDDF2);
    assert_eq!(of("CARRY-16/16LE", &rfc), 0xF2DD);
    assert_eq!(of("INTERNET", &rfc), 0x220D);
    // Fletcher over "abcde", "abcdef", "abcdefgh": the test vectors of the article "Fletcher's checksum" in Wikipedia,
    // which the tests of many implementations repeat.
    for (text, f16, f32, f64) in [
        ("abcde", 0xC8F0, 0xF04F_C729, 0xC8C6_C527_6463_62C6),
        ("abcdef", 0x2057, 0x5650_2D2A, 0xC8C7_2B27_6463_C8C6),
        ("abcdefgh", 0x0627, 0xEBE1_9591, 0x312E_2B28_CCCA_C8C6),
    ] {
        assert_eq!(of("FLETCHER-16", text.as_bytes()), f16, "{text}");
        assert_eq!(of("FLETCHER-32", text.as_bytes()), f32, "{text}");
        assert_eq!(of("FLETCHER-64", text.as_bytes()), f64, "{text}");
    }
    // `sum -r` and `sum -s` of GNU coreutils 9.1 over the nine digits.
    assert_eq!(of("BSD-SUM", NINE), 53_615);
    assert_eq!(of("SYSV-SUM", NINE), 477);
    // `cksum` of GNU coreutils 9.1 over the nine digits: it appends the length, lowest byte first.
    assert_eq!(by_name("CRC-32/CKSUM").unwrap().compute([NINE, &[9]]), 930_766_865);
}

#[test]
fn the_system_v_sum_folds_twice() {
    // 0x1FFFF * … : a total of 0x1FFFE folds to 0xFFFF, and one of 0x1FFFF to 1.
    let bytes = vec![0xFF; 514]; // 0x1FFFE
    assert_eq!(by_name("SYSV-SUM").unwrap().compute([bytes.as_slice()]), 0xFFFF);
    assert_eq!(by_name("SYSV-SUM").unwrap().compute([bytes.as_slice(), &[1]]), 1);
}

#[test]
fn parameters_are_read_as_they_are_shown_and_listed_ones_are_named() {
    for listed in catalogue() {
        if matches!(listed.algorithm.method, Method::Crc(_) | Method::Sum(_)) {
            assert_eq!(by_name(&listed.algorithm.method.to_string()).unwrap(), listed.algorithm);
        }
    }
    let custom = by_name("crc( width: 16, poly: 0x1021, init: 0x1234,refin:true )").unwrap();
    assert_eq!(
        custom.name,
        "CRC(width: 16, poly: 0x1021, init: 0x1234, refin: true, refout: false, xorout: 0x0)"
    );
    assert_eq!(by_name(&custom.name).unwrap(), custom);
    let constant = by_name("SUM(bits: 16, word: 16, order: Little, to: 0xBABA)").unwrap();
    assert_eq!(by_name(&constant.name).unwrap(), constant);
    assert_eq!(by_name("SUM(bits: 8, to: 0)").unwrap().name, "SUM-8/TWOS");
    assert_eq!(by_name("XOR(bits: 8, to: 0)").unwrap().name, "XOR-8");
}

#[test]
fn a_wrong_name_or_parameter_is_quoted_with_what_was_expected() {
    for (text, what, advice) in [
        ("crc16/xmoden", "crc16/xmoden", "CRC-16/XMODEM"),
        ("SUM8", "SUM8", "SUM-8"),
        ("MOON(bits: 8)", "MOON", "CRC(width"),
        ("CRC(width: 16)", "poly is missing", "poly: 0x1021"),
        ("CRC(width: 2, poly: 1)", "width 2", "3 to 128"),
        ("CRC(width: 129, poly: 1)", "width 129", "3 to 128"),
        ("CRC(width: 16, poly: 0x11021)", "0x11021", "leading term"),
        ("CRC(width: 16, poly: 0x1021, refin: yes)", "yes", "true or false"),
        ("CRC(width: 16, poly: +5)", "+5", "decimal"),
        ("CRC(width: 16, poly: 5, poly: 6)", "twice", "take one"),
        ("CRC(width: 16, pole: 5)", "pole", "did you mean poly?"),
        ("CRC(width 16)", "width 16", "write CRC"),
        ("SUM(bits: 12)", "bits 12", "8, 16, 32 or 64"),
        ("SUM(bits: 8, word: 16, order: Big)", "word 16", "at most"),
        ("SUM(bits: 16, word: 16)", "order is missing", "Big or Little"),
        ("SUM(bits: 16, word: 16, order: Middle)", "Middle", "Big or Little"),
        ("SUM(bits: 8, to: 256)", "0x100", "0xFF"),
    ] {
        let error = by_name(text).unwrap_err();
        assert!(error.what.contains(what), "{text}: {}", error.what);
        assert!(error.advice.contains(advice), "{text}: {}", error.advice);
    }
}

#[test]
fn a_sum_starts_from_its_initial_value() {
    let sum = by_name("SUM(bits: 8, init: 0x55)").unwrap();
    assert_eq!(sum.compute([&[1_u8, 2][..]]), 0x58);
    assert_eq!(by_name("CARRY(bits: 8, init: 0xFF)").unwrap().compute([&[1_u8][..]]), 1);
}

#[test]
fn an_odd_tail_counts_as_a_word_with_zeros_behind_it_and_words_run_on_from_piece_to_piece() {
    let be = by_name("SUM-16/16BE").unwrap();
    assert_eq!(be.compute([&[0x12, 0x34, 0x56][..]]), 0x1234 + 0x5600);
    assert_eq!(be.compute([&[0x12][..], &[0x34, 0x56]]), 0x1234 + 0x5600);
    assert_eq!(by_name("SUM-16/16LE").unwrap().compute([&[0x12, 0x34, 0x56][..]]), 0x3412 + 0x56);
}

proptest! {
    #[test]
    fn crc_32_and_adler_32_agree_with_independent_crates(bytes in proptest::collection::vec(any::<u8>(), 0..2000)) {
        let of = |name: &str| by_name(name).unwrap().compute([bytes.as_slice()]);
        prop_assert_eq!(of("CRC-32/ISO-HDLC"), u128::from(crc32fast::hash(&bytes)));
        prop_assert_eq!(of("ADLER-32"), u128::from(adler2::adler32_slice(&bytes)));
    }

    #[test]
    fn computing_by_tables_agrees_with_the_bitwise_model(
        bytes in proptest::collection::vec(any::<u8>(), 0..60),
        which in 0_usize..113,
    ) {
        let Method::Crc(parameters) = catalogue()[which].algorithm.method else { unreachable!() };
        let mut bitwise = crc::CrcRunning::bitwise(parameters);
        bitwise.update(&bytes);
        prop_assert_eq!(catalogue()[which].algorithm.compute([bytes.as_slice()]), bitwise.finish());
    }

    #[test]
    fn pieces_laid_end_to_end_give_what_the_whole_gives(
        bytes in proptest::collection::vec(any::<u8>(), 1..100),
        cuts in proptest::collection::vec(0_usize..100, 0..5),
    ) {
        let mut cuts: Vec<usize> = cuts.into_iter().map(|cut| cut % bytes.len()).collect();
        cuts.extend([0, bytes.len()]);
        cuts.sort_unstable();
        for listed in catalogue().iter().filter(|listed| listed.published.is_none()) {
            let pieces = cuts.windows(2).map(|cut| &bytes[cut[0]..cut[1]]);
            prop_assert_eq!(
                listed.algorithm.compute(pieces),
                listed.algorithm.compute([bytes.as_slice()]),
                "{}", listed.algorithm
            );
        }
    }

    #[test]
    fn no_text_makes_the_reader_of_parameters_panic(text in "(CRC|SUM|XOR|[a-z]{0,3})\\([a-z0-9:, +x_]{0,40}\\)?") {
        let _ = by_name(&text);
    }
}
