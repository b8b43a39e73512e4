//! Laws of the Merkle tree on random trees.
//!
//! The sizes are not among the things changed here: a proof is a path, and trees of several sizes can share it. What binds
//! a size to its root is the checkpoint, which signs both.

#![allow(clippy::expect_used, clippy::indexing_slicing, clippy::panic, reason = "helpers of tests")]

use proptest::prelude::*;
use record::tree::{
    Frontier, FrontierError, Hash, MAX_SIZE, consistency_proof, inclusion_proof, leaf_hash, node_hash, root,
    verify_consistency, verify_inclusion,
};

fn leaves(count: usize, salt: u64) -> Vec<Hash> {
    (0..count).map(|n| leaf_hash(format!("{salt} {n}").as_bytes())).collect()
}

/// Every way to spoil a list of hashes a little: each hash with one bit changed, each dropped, each doubled, neighbours
/// exchanged, one too many at either end.
fn spoiled(proof: &[Hash], bit: usize, stranger: Hash) -> Vec<Vec<Hash>> {
    let mut all = vec![[proof, &[stranger]].concat(), [&[stranger], proof].concat()];
    for place in 0..proof.len() {
        let mut changed = proof.to_vec();
        changed[place][bit / 8] ^= 1 << (bit % 8);
        all.push(changed);
        let mut dropped = proof.to_vec();
        dropped.remove(place);
        all.push(dropped);
        let mut doubled = proof.to_vec();
        doubled.insert(place, proof[place]);
        all.push(doubled);
        if place > 0 {
            let mut exchanged = proof.to_vec();
            exchanged.swap(place - 1, place);
            all.push(exchanged);
        }
    }
    all
}

fn changed(hash: Hash, bit: usize) -> Hash {
    let mut hash = hash;
    hash[bit / 8] ^= 1 << (bit % 8);
    hash
}

/// Every pair of sizes up to 40, and every leaf of every size up to 40.
#[test]
fn every_small_proof_verifies() {
    let all = leaves(40, 0);
    let mut edge = Frontier::new();
    for size in 1..=all.len() {
        let (tree, n) = (&all[..size], size as u64);
        edge.append(all[size - 1]);
        let top = root(tree);
        assert_eq!((edge.root(), edge.size()), (top, n));
        for index in 0..size {
            let proof = inclusion_proof(tree, index).expect("a leaf");
            for claimed in 0..n {
                assert_eq!(verify_inclusion(&tree[index], claimed, n, &proof, &top), claimed == index as u64);
            }
        }
        for old in 1..=size {
            let proof = consistency_proof(tree, old).expect("a prefix");
            assert!(verify_consistency(old as u64, &root(&all[..old]), n, &top, &proof), "{old} to {size}");
        }
    }
}

/// A step too many is refused even for the root that it leads to.
#[test]
fn a_longer_path_proves_nothing_for_its_own_root() {
    let all = leaves(40, 1);
    let stranger = leaf_hash(b"stranger");
    for size in 1..=all.len() {
        let (tree, n) = (&all[..size], size as u64);
        let top = root(tree);
        for led_to in [node_hash(&top, &stranger), node_hash(&stranger, &top)] {
            for index in 0..size {
                let proof = [inclusion_proof(tree, index).expect("a leaf"), vec![stranger]].concat();
                assert!(
                    !verify_inclusion(&tree[index], index as u64, n, &proof, &led_to),
                    "{index} of {size}"
                );
            }
            for old in 1..=size {
                let proof = [consistency_proof(tree, old).expect("a prefix"), vec![stranger]].concat();
                for old_root in [root(&all[..old]), node_hash(&stranger, &root(&all[..old]))] {
                    assert!(
                        !verify_consistency(old as u64, &old_root, n, &led_to, &proof),
                        "{old} to {size}"
                    );
                }
            }
        }
    }
}

#[test]
fn the_greatest_stored_edge() {
    let edge = |size: u64| {
        Frontier::from_bytes(
            &[size.to_be_bytes().to_vec(), vec![7; 32 * size.count_ones() as usize]].concat(),
        )
    };
    assert_eq!(edge(MAX_SIZE).map(|edge| edge.size()), Ok(MAX_SIZE));
    for size in [MAX_SIZE + 1, u64::MAX] {
        assert_eq!(edge(size), Err(FrontierError::TooBig { size }));
    }
}

proptest! {
    #[test]
    fn the_edge_has_the_root_of_the_tree(count in 0_usize..3000, salt: u64, cut in 0_usize..3000) {
        let all = leaves(count, salt);
        let mut edge = Frontier::new();
        for (n, leaf) in all.iter().enumerate() {
            if n == cut {
                // Stored and read back in between.
                prop_assert_eq!(edge.root(), root(&all[..n]));
                edge = Frontier::from_bytes(&edge.to_bytes()).expect("its own bytes");
            }
            edge.append(*leaf);
        }
        prop_assert_eq!(edge.root(), root(&all));
        prop_assert_eq!(edge.size(), count as u64);
    }

    #[test]
    fn stored_edges_are_checked(size in prop_oneof![0_u64..70, any::<u64>()], hashes in 0_usize..66, odd in 0_usize..33) {
        let mut bytes = size.to_be_bytes().to_vec();
        bytes.extend(std::iter::repeat_n(7_u8, hashes * 32 + odd));
        let fits = size <= MAX_SIZE && bytes.len() == 8 + 32 * size.count_ones() as usize;
        match Frontier::from_bytes(&bytes) {
            Ok(edge) => {
                prop_assert!(fits);
                prop_assert_eq!(&edge.to_bytes(), &bytes);
            }
            Err(FrontierError::TooBig { .. }) => prop_assert!(size > MAX_SIZE),
            Err(FrontierError::Length { .. }) => prop_assert!(!fits),
            Err(FrontierError::TooShort { .. }) => prop_assert!(false, "eight bytes are there"),
        }
        for short in 0..8 {
            prop_assert_eq!(Frontier::from_bytes(&bytes[..short]), Err(FrontierError::TooShort { bytes: short }));
        }
    }

    #[test]
    fn an_inclusion_proof_verifies_and_no_spoiled_one_does(
        (count, index) in (1_usize..600).prop_flat_map(|count| (Just(count), 0..count)),
        salt: u64,
        bit in 0_usize..256,
        wrong in any::<u64>(),
    ) {
        let all = leaves(count, salt);
        let (top, leaf, at, size) = (root(&all), all[index], index as u64, count as u64);
        let proof = inclusion_proof(&all, index).expect("a leaf");
        prop_assert!(verify_inclusion(&leaf, at, size, &proof, &top));
        for spoiled in spoiled(&proof, bit, top) {
            prop_assert!(!verify_inclusion(&leaf, at, size, &spoiled, &top));
        }
        prop_assert!(!verify_inclusion(&changed(leaf, bit), at, size, &proof, &top));
        prop_assert!(!verify_inclusion(&leaf, at, size, &proof, &changed(top, bit)));
        for other in [wrong % size, wrong, at.wrapping_add(1), at.wrapping_sub(1)] {
            prop_assert!(other == at || !verify_inclusion(&leaf, other, size, &proof, &top));
        }
    }

    #[test]
    fn a_consistency_proof_verifies_and_no_spoiled_one_does(
        (count, old) in (1_usize..600).prop_flat_map(|count| (Just(count), 1..=count)),
        salt: u64,
        bit in 0_usize..256,
    ) {
        let all = leaves(count, salt);
        let (old_root, top) = (root(&all[..old]), root(&all));
        let (m, n) = (old as u64, count as u64);
        let proof = consistency_proof(&all, old).expect("a prefix");
        prop_assert!(verify_consistency(m, &old_root, n, &top, &proof));
        for spoiled in spoiled(&proof, bit, top) {
            prop_assert!(!verify_consistency(m, &old_root, n, &top, &spoiled));
        }
        prop_assert!(!verify_consistency(m, &changed(old_root, bit), n, &top, &proof));
        prop_assert!(!verify_consistency(m, &old_root, n, &changed(top, bit), &proof));
        // A history with one early entry exchanged is no continuation.
        let mut rewritten = all.clone();
        rewritten[bit % old] = changed(rewritten[bit % old], bit);
        let other = consistency_proof(&rewritten, old).expect("a prefix");
        prop_assert!(!verify_consistency(m, &old_root, n, &root(&rewritten), &other));
    }

    #[test]
    fn hostile_numbers_do_no_harm(
        a: u64, b: u64,
        hash: [u8; 32],
        proof in proptest::collection::vec(any::<[u8; 32]>(), 0..80),
    ) {
        prop_assert!(!verify_inclusion(&hash, a, b, &proof, &hash) || (b == 1 && proof.is_empty()));
        prop_assert!(!verify_consistency(a, &hash, b, &hash, &proof) || (a == b && proof.is_empty()));
    }
}
