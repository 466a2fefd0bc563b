use super::*;
use crate::check::by_name;
use crate::image::Image;

/// Bytes that look like anything, the same for the same seed.
fn noise(seed: u64, len: usize) -> Vec<u8> {
    let mut state = seed.wrapping_mul(0x9E37_79B9_7F4A_7C15) | 1;
    (0..len)
        .map(|_| {
            state ^= state << 13;
            state ^= state >> 7;
            state ^= state << 17;
            (state >> 24) as u8
        })
        .collect()
}

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
    let mut found = fold::Found::default();
    for unit in search::units(&scene).iter().filter(|unit| match unit.member {
        Some(one) => one == member,
        None => unit.kernel.members.contains(member),
    }) {
        found.add(search::run(&scene, unit, &AtomicBool::new(false)));
    }
    fold::fold(found, LIMIT).0
}

#[test]
fn every_algorithm_is_found_over_a_free_range_in_four_images() {
    for kernel in kernel::kernels().iter().filter(|kernel| kernel.bits >= 16) {
        for member in &kernel.members {
            let step = kernel.family.step();
            let over = Span::of(21, 12 * 8);
            let at = 21 + 12 * 8 + 9 * step;
            let images: Vec<Vec<u8>> = (1..=4)
                .map(|seed| {
                    let mut bytes = noise(seed, 200);
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
