//! Hunts in images whose checks are known.

use super::*;
use crate::check::by_name;
use crate::image::Image;
use crate::noise::noise;

fn seal(bytes: &mut [u8], name: &str, over: Span, at: usize, order: ByteOrder) {
    let algorithm = by_name(name).unwrap();
    let len = algorithm.bytes();
    let value = algorithm.compute([&bytes[over.range()]]);
    let mut stored: Vec<u8> = value.to_le_bytes()[..len].to_vec();
    if order == ByteOrder::Big {
        stored.reverse();
    }
    bytes[at..at + len].copy_from_slice(&stored);
}

/// What one kernel alone finds; the whole catalogue takes long without optimisation.
fn ask_kernel(images: &[Vec<u8>], member: &Algorithm) -> Vec<Hit> {
    let images: Vec<Image> = images.iter().cloned().map(Image::raw).collect();
    let question = Question { images: images.iter().collect(), bounds: Vec::new(), limit: LIMIT };
    let scene = scene::Scene::new(&question);
    let mut found = resolve::Resolved::default();
    let is_own =
        |unit: &search::Unit| matches!(unit, search::Unit::Kernel(kernel) if kernel.members.contains(member));
    for unit in search::units(&scene).into_iter().filter(is_own) {
        found.add(search::run(&scene, unit, &AtomicBool::new(false)));
    }
    fold::fold(found, &scene).0
}

#[test]
fn every_algorithm_is_found_over_any_range_in_four_images() {
    for kernel in kernel::kernels().iter().filter(|kernel| kernel.bits >= 16) {
        for member in &kernel.members {
            let step = kernel.family.step();
            let over = Span::of(21, 12 * 8);
            // Of the sum that has to be tried for, the value stands beside its range.
            let apart = if kernel.family == kernel::Family::Rotating { 0 } else { 9 * step };
            let at = over.end + apart;
            let images: Vec<Vec<u8>> = (1..=4)
                .map(|seed| {
                    let mut bytes = noise(200, seed);
                    seal(&mut bytes, &member.name, over, at, ByteOrder::Little);
                    bytes
                })
                .collect();
            let hits = ask_kernel(&images, member);
            let hit = hits.first().unwrap_or_else(|| panic!("{member} not found"));
            assert_eq!((hit.way.over, hit.way.stored_at.start), (over, at), "{member} {hit:?}");
            let mut ways = std::iter::once(&hit.way).chain(&hit.also);
            assert!(ways.any(|way| way.by == *member), "{member} {hit:?}");
        }
    }
}

#[test]
fn a_polynomial_that_nobody_listed_is_solved_for_from_five_images() {
    for text in [
        "CRC(width: 16, poly: 0x1EDB, init: 0xFFFF, refin: false, refout: false, xorout: 0)",
        "CRC(width: 16, poly: 0xB7D1, init: 0, refin: true, refout: true, xorout: 0xFFFF)",
        "CRC(width: 32, poly: 0x12345679, init: 0, refin: false, refout: false, xorout: 0)",
    ] {
        let by = by_name(text).unwrap();
        let (over, at) = (Span::new(16, 96 - by.bytes()), 96 - by.bytes());
        let images: Vec<Image> = (1..=5)
            .map(|seed| {
                let mut bytes = noise(128, seed);
                seal(&mut bytes, text, over, at, ByteOrder::Little);
                Image::raw(bytes)
            })
            .collect();
        let question = Question { images: images.iter().collect(), bounds: Vec::new(), limit: LIMIT };
        let hits = polynomial::solve(&scene::Scene::new(&question), by.bytes(), &AtomicBool::new(false));
        let found: Vec<(&Algorithm, Span)> = hits.iter().map(|hit| (&hit.way.by, hit.way.over)).collect();
        assert_eq!(found, [(&by, over)], "{text}");
        assert!(hits[0].expected < 1e-6 && !hits[0].listed);
    }
}

#[test]
fn with_too_few_images_no_polynomial_is_made_up() {
    let images: Vec<Image> = (1..=2).map(|seed| Image::raw(noise(128, seed))).collect();
    let question = Question { images: images.iter().collect(), bounds: Vec::new(), limit: LIMIT };
    let scene = scene::Scene::new(&question);
    for size in polynomial::SIZES {
        assert!(polynomial::solve(&scene, size, &AtomicBool::new(false)).is_empty());
    }
}

/// Every (start, end, place, order) that holds in all images and covers a varying byte, by trying all of them.
fn naive(images: &[Vec<u8>], by: &Algorithm) -> Vec<Way> {
    let (len, bytes, step) = (images[0].len(), by.bytes(), kernel::kernels());
    let step =
        step.iter().find(|kernel| kernel.members.contains(by)).map_or(1, |kernel| kernel.family.step());
    let varies = |span: Span| images.iter().any(|image| image[span.range()] != images[0][span.range()]);
    let mut ways = Vec::new();
    for start in 0..len {
        for end in (start + step..=len).step_by(step) {
            let over = Span::new(start, end);
            for at in (0..=len - bytes).filter(|&at| !Span::of(at, bytes).overlaps(over)) {
                for &order in kernel::orders(by.bits()) {
                    let stored_at = Span::of(at, bytes);
                    let holds = |image: &Vec<u8>| {
                        by.compute([&image[over.range()]])
                            == u128::from(order.number_u64(&image[stored_at.range()]))
                    };
                    if varies(over) && images.iter().all(holds) {
                        let stored_bytes = StoredBytes::Excluded;
                        ways.push(Way { by: by.clone(), over, stored_at, order, stored_bytes });
                    }
                }
            }
        }
    }
    ways
}

#[test]
fn whatever_trying_everything_finds_is_found_or_chance() {
    for (seed, name) in (0..).zip([
        "CRC-16/ARC",
        "CRC-16/IBM-3740",
        "CRC-8/SMBUS",
        "SUM-8/TWOS",
        "SUM-16/16LE",
        "INTERNET",
        "XOR-8",
    ]) {
        let by = by_name(name).unwrap();
        // Two images, so that chance gives hits of 8 bits too.
        let images: Vec<Vec<u8>> = (1..=3)
            .map(|image| {
                let mut bytes = noise(44, 10 * seed + image);
                let end = 8 + 24 / by.bytes() * by.bytes();
                seal(&mut bytes, name, Span::new(8, end), end, ByteOrder::Little);
                bytes
            })
            .collect();
        let hits = ask_kernel(&images, &by);
        let found = |way: &Way| {
            hits.iter().any(|hit| {
                // Folded hits are named as other ways; of many only some are kept.
                std::iter::once(&hit.way).chain(&hit.also).any(|known| known == way)
                    || hit.way.stored_at.overlaps(way.stored_at)
            })
        };
        let scenes: Vec<Image> = images.iter().cloned().map(Image::raw).collect();
        let question = Question { images: scenes.iter().collect(), bounds: Vec::new(), limit: LIMIT };
        let scene = scene::Scene::new(&question);
        let all = naive(&images, &by);
        assert!(!all.is_empty(), "{name}");
        for way in &all {
            let reach = scene.reach(way.over, way.stored_at);
            let evidence = f64::from(by.bits()) * scene.independent(way.over, way.stored_at).len() as f64;
            let expected = scene.expected(reach, by.bits(), evidence, kernel::ways(by.bits()));
            assert!(found(way) || expected > LIMIT / 1000.0, "{way:?} of {hits:?}");
        }
        // And nothing is told that does not hold.
        for hit in
            hits.iter().filter(|hit| hit.way.by == by && !matches!(hit.reach, Reach::Inside | Reach::Around))
        {
            assert!(all.contains(&hit.way), "{hit:?}");
        }
    }
}

#[test]
fn a_value_inside_its_range_is_found_whatever_stands_in_for_it() {
    let over = Span::new(0, 256);
    let stored_at = Span::of(37, 4);
    for stand_in in [StoredBytes::Excluded, StoredBytes::Zeroed, StoredBytes::Erased] {
        for count in [1, 3] {
            let by = by_name("CRC-32/ISCSI").unwrap();
            let way = Way { by: by.clone(), over, stored_at, order: ByteOrder::Big, stored_bytes: stand_in };
            let images: Vec<Vec<u8>> = (1..=count)
                .map(|seed| {
                    let mut image = Image::raw(noise(256, seed));
                    let edit = crate::check::reseal(&way.placed(), &image).unwrap();
                    image.bytes_mut()[edit.span().range()].copy_from_slice(&edit.after);
                    image.bytes().to_vec()
                })
                .collect();
            let hits = ask_kernel(&images, &by);
            assert_eq!(hits.first().map(|hit| &hit.way), Some(&way), "{count} images");
        }
    }
}

#[test]
fn a_single_image_shows_a_value_before_its_range_wherever_that_ends() {
    let by = by_name("CRC-64/XZ").unwrap();
    let over = Span::new(28, 141);
    let mut image = noise(200, 3);
    seal(&mut image, &by.name, over, 20, ByteOrder::Little);
    let hits = ask_kernel(&[image], &by);
    assert_eq!(hits.first().map(|hit| (hit.way.over, hit.way.stored_at.start)), Some((over, 20)));
}

#[test]
fn a_search_that_is_called_off_says_so_and_tells_what_it_has() {
    let images: Vec<Image> = (1..=3).map(|seed| Image::raw(noise(200, seed))).collect();
    let question = Question { images: images.iter().collect(), bounds: Vec::new(), limit: LIMIT };
    let cancel = AtomicBool::new(false);
    let answer = hunt(&question, &|_| cancel.store(true, Ordering::Relaxed), &cancel);
    assert!(answer.cancelled);
    assert_eq!((answer.bytes, answer.images), (200, 3));
}
