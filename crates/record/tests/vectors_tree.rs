//! The Merkle tree against published values.
//!
//! The RFCs print no roots. Source of leaves, subtree roots, roots and proofs: the reference test data of
//! `transparency-dev/merkle` (`testonly/constants.go`, `proof/verify_test.go`), the eight leaves that implementations of
//! RFC 6962 have shared since the first of them. The kinds of damage tried on each proof are those of the same test.

#![allow(clippy::expect_used, clippy::indexing_slicing, clippy::panic, reason = "helpers of tests")]

use record::tree::{
    Frontier, Hash, consistency_proof, empty_root, inclusion_proof, leaf_hash, node_hash, root,
    verify_consistency, verify_inclusion,
};

const LEAVES: [&str; 8] =
    ["", "00", "10", "2021", "3031", "40414243", "5051525354555657", "606162636465666768696a6b6c6d6e6f"];

const LEAF_HASHES: [&str; 8] = [
    "6e340b9cffb37a989ca544e6bb780a2c78901d3fb33738768511a30617afa01d",
    "96a296d224f285c67bee93c30f8a309157f0daa35dc5b87e410b78630a09cfc7",
    "0298d122906dcfc10892cb53a73992fc5b9f493ea4c9badb27b791b4127a7fe7",
    "07506a85fd9dd2f120eb694f86011e5bb4662e5c415a62917033d4a9624487e7",
    "bc1a0643b12e4d2d7c77918f44e0f4f79a838b6cf9ec5b5c283e1f4d88599e6b",
    "4271a26be0d8a84f0bd54c8c302e7cb3a3b5d1fa6780a40bcce2873477dab658",
    "b08693ec2e721597130641e8211e7eedccb4c26413963eee6c1e2ed16ffb1a5f",
    "46f6ffadd3d06a09ff3c5860d2755c8b9819db7df44251788c7d8e3180de8eb1",
];

const PAIRS: [&str; 4] = [
    "fac54203e7cc696cf0dfcb42c92a1d9dbaf70ad9e621f4bd8d98662f00e3c125",
    "5f083f0a1a33ca076a95279832580db3e0ef4584bdff1f54c8a360f50de3031e",
    "0ebc5d3437fbe2db158b9f126a1d118e308181031d0a949f8dededebc558ef6a",
    "ca854ea128ed050b41b35ffc1b87b8eb2bde461e9e3b5596ece6b9d5975a0ae0",
];

const HALVES: [&str; 2] = [
    "d37ee418976dd95753c1c73862b9398fa2a2cf9b4ff0fdfe8b30cd95209614b7",
    "6b47aaf29ee3c2af9af889bc1fb9254dabd31177f16232dd6aab035ca39bf6e4",
];

/// By size, from 0.
const ROOTS: [&str; 9] = [
    "e3b0c44298fc1c149afbf4c8996fb92427ae41e4649b934ca495991b7852b855",
    "6e340b9cffb37a989ca544e6bb780a2c78901d3fb33738768511a30617afa01d",
    "fac54203e7cc696cf0dfcb42c92a1d9dbaf70ad9e621f4bd8d98662f00e3c125",
    "aeb6bcfe274b70a14fb067a5e5578264db0fa9b51af5e0ba159158f329e06e77",
    "d37ee418976dd95753c1c73862b9398fa2a2cf9b4ff0fdfe8b30cd95209614b7",
    "4e3bbb1f7b478dcfe71fb631631519a3bca12c9aefca1612bfce4c13a86264d4",
    "76e67dadbcdf1e10e1b74ddc608abd2f98dfb16fbce75277b5232a127f2087ef",
    "ddb89be403809e325750d3d263cd78929c2942b7942a34b77e122c9594a74c8c",
    "5dc9da79a70659a9ad559cb701ded9a2ab9d823aad2f4960cfe370eff4604328",
];

/// Leaf (from 1), size, path.
const INCLUSION: [(usize, usize, &[&str]); 5] = [
    (1, 1, &[]),
    (1, 8, &[LEAF_HASHES[1], PAIRS[1], HALVES[1]]),
    (6, 8, &[LEAF_HASHES[4], PAIRS[3], HALVES[0]]),
    (3, 3, &[PAIRS[0]]),
    (2, 5, &[LEAF_HASHES[0], PAIRS[1], LEAF_HASHES[4]]),
];

/// Old size, size, proof.
const CONSISTENCY: [(usize, usize, &[&str]); 5] = [
    (1, 1, &[]),
    (1, 8, &[LEAF_HASHES[1], PAIRS[1], HALVES[1]]),
    (6, 8, &[PAIRS[2], PAIRS[3], HALVES[0]]),
    (2, 5, &[PAIRS[1], LEAF_HASHES[4]]),
    (6, 7, &[PAIRS[2], LEAF_HASHES[6], HALVES[0]]),
];

/// What was damaged, leaf, index, size, path, root.
type Inclusion = (&'static str, Hash, u64, u64, Vec<Hash>, Hash);

/// What was damaged, old size, old root, size, root, proof.
type Consistency = (&'static str, u64, Hash, u64, Hash, Vec<Hash>);

fn hash(text: &str) -> Hash {
    hex::decode(text).expect("hex").try_into().expect("32 bytes")
}

fn hashes(texts: &[&str]) -> Vec<Hash> {
    texts.iter().map(|text| hash(text)).collect()
}

fn leaves() -> Vec<Hash> {
    LEAVES.iter().map(|data| leaf_hash(&hex::decode(data).expect("hex"))).collect()
}

#[test]
fn leaves_nodes_and_roots() {
    let leaves = leaves();
    assert_eq!(leaves, hashes(&LEAF_HASHES));
    let level =
        |below: &[Hash]| -> Vec<Hash> { below.chunks(2).map(|pair| node_hash(&pair[0], &pair[1])).collect() };
    let pairs = level(&leaves);
    assert_eq!(pairs, hashes(&PAIRS));
    assert_eq!(level(&pairs), hashes(&HALVES));

    let mut edge = Frontier::new();
    for (size, expected) in ROOTS.iter().enumerate() {
        assert_eq!(root(&leaves[..size]), hash(expected), "size {size}");
        assert_eq!(edge.root(), hash(expected), "edge of size {size}");
        if let Some(leaf) = leaves.get(size) {
            edge.append(*leaf);
        }
    }
    assert_eq!(empty_root(), hash(ROOTS[0]));
}

/// The complete subtrees on the right edge, size by size, as the same source lists them.
#[test]
fn edges() {
    let expected: [&[&str]; 9] = [
        &[],
        &[LEAF_HASHES[0]],
        &[PAIRS[0]],
        &[PAIRS[0], LEAF_HASHES[2]],
        &[HALVES[0]],
        &[HALVES[0], LEAF_HASHES[4]],
        &[HALVES[0], PAIRS[2]],
        &[HALVES[0], PAIRS[2], LEAF_HASHES[6]],
        &[ROOTS[8]],
    ];
    let mut edge = Frontier::new();
    for (size, subtrees) in expected.iter().enumerate() {
        let bytes = edge.to_bytes();
        assert_eq!(hex::encode(&bytes), format!("{size:016x}{}", subtrees.concat()));
        assert_eq!(Frontier::from_bytes(&bytes).as_ref(), Ok(&edge));
        if let Some(leaf) = leaves().get(size) {
            edge.append(*leaf);
        }
    }
}

#[test]
fn inclusion_proofs() {
    let leaves = leaves();
    let other = hash("abacaba000000000000000000000000000000000000000000060061e00123456");
    let mut damaged = 0;
    for (number, size, path) in INCLUSION {
        let (index, path) = (number - 1, hashes(path));
        assert_eq!(inclusion_proof(&leaves[..size], index).as_ref(), Some(&path), "{number} of {size}");
        let (leaf, top) = (leaves[index], hash(ROOTS[size]));
        let (i, n) = (index as u64, size as u64);
        assert!(verify_inclusion(&leaf, i, n, &path, &top), "{number} of {size}");

        let mut cases: Vec<Inclusion> = vec![
            ("index - 1", leaf, i.wrapping_sub(1), n, path.clone(), top),
            ("index + 1", leaf, i + 1, n, path.clone(), top),
            ("index ^ 2", leaf, i ^ 2, n, path.clone(), top),
            ("size * 2", leaf, i, n * 2, path.clone(), top),
            ("size / 2", leaf, i, n / 2, path.clone(), top),
            ("wrong leaf", other, i, n, path.clone(), top),
            ("empty root", leaf, i, n, path.clone(), empty_root()),
            ("random root", leaf, i, n, path.clone(), other),
            ("trailing root", leaf, i, n, [path.clone(), vec![top]].concat(), top),
            ("preceding root", leaf, i, n, [vec![top], path.clone()].concat(), top),
        ];
        for place in 0..path.len() {
            let mut changed = path.clone();
            changed[place][0] ^= 8;
            cases.push(("one bit", leaf, i, n, changed, top));
        }
        if let Some((_, shorter)) = path.split_last() {
            cases.push(("removed last", leaf, i, n, shorter.to_vec(), top));
        }
        if let [first, rest @ ..] = path.as_slice() {
            cases.push(("inserted", leaf, i, n, [[*first, other].as_slice(), rest].concat(), top));
        }
        for (what, leaf, index, size, path, top) in cases {
            damaged += 1;
            assert!(!verify_inclusion(&leaf, index, size, &path, &top), "{number} of {size}: {what}");
        }
    }
    assert_eq!(damaged, 5 * 10 + 10 + 4 + 4);
    for (index, size) in
        [(0, 0), (0, 1), (1, 0), (2, 1), (u64::MAX, u64::MAX), (0, u64::MAX), (u64::MAX - 1, u64::MAX)]
    {
        assert!(!verify_inclusion(&other, index, size, &[], &empty_root()), "{index} of {size}");
        assert!(!verify_inclusion(&other, index, size, &[other; 70], &empty_root()), "{index} of {size}");
    }
    assert_eq!(inclusion_proof(&leaves, 8), None);
    assert_eq!(inclusion_proof(&[], 0), None);
}

#[test]
fn consistency_proofs() {
    let leaves = leaves();
    let other = hash("abacaba000000000000000000000000000000000000000000060061e00123456");
    let mut damaged = 0;
    for (old, size, proof) in CONSISTENCY {
        let proof = hashes(proof);
        assert_eq!(consistency_proof(&leaves[..size], old).as_ref(), Some(&proof), "{old} to {size}");
        let (old_root, top) = (hash(ROOTS[old]), hash(ROOTS[size]));
        let (m, n) = (old as u64, size as u64);
        assert!(verify_consistency(m, &old_root, n, &top, &proof), "{old} to {size}");
        if proof.is_empty() {
            continue;
        }
        let mut cases: Vec<Consistency> = vec![
            ("old size - 1", m - 1, old_root, n, top, proof.clone()),
            ("old size + 1", m + 1, old_root, n, top, proof.clone()),
            ("old size ^ 2", m ^ 2, old_root, n, top, proof.clone()),
            ("size * 2", m, old_root, n * 2, top, proof.clone()),
            ("size / 2", m, old_root, n / 2, top, proof.clone()),
            ("wrong old root", m, other, n, top, proof.clone()),
            ("wrong root", m, old_root, n, other, proof.clone()),
            ("swapped roots", m, top, n, old_root, proof.clone()),
            ("empty proof", m, old_root, n, top, vec![]),
            ("trailing old root", m, old_root, n, top, [proof.clone(), vec![old_root]].concat()),
            ("trailing root", m, old_root, n, top, [proof.clone(), vec![top]].concat()),
            ("preceding old root", m, old_root, n, top, [vec![old_root], proof.clone()].concat()),
            ("preceding root", m, old_root, n, top, [vec![top], proof.clone()].concat()),
            ("first twice", m, old_root, n, top, [vec![proof[0]], proof.clone()].concat()),
            ("cut short", m, old_root, n, top, proof[..proof.len() - 1].to_vec()),
        ];
        for place in 0..proof.len() {
            let mut changed = proof.clone();
            changed[place][0] ^= 16;
            cases.push(("one bit", m, old_root, n, top, changed));
        }
        for (what, m, old_root, n, top, proof) in cases {
            damaged += 1;
            assert!(!verify_consistency(m, &old_root, n, &top, &proof), "{old} to {size}: {what}");
        }
    }
    assert_eq!(damaged, 4 * 15 + 11);

    let (empty, a) = (empty_root(), hash(ROOTS[1]));
    // Equal sizes need equal roots and no proof; from nothing, nothing follows.
    assert!(verify_consistency(1, &a, 1, &a, &[]) && verify_consistency(0, &empty, 0, &empty, &[]));
    for (m, old_root, n, top, proof) in [
        (0, a, 0, a, vec![]),
        (0, a, 0, empty, vec![]),
        (1, a, 1, empty, vec![]),
        (1, a, 1, a, vec![a]),
        (0, empty, 1, a, vec![]),
        (0, empty, 1, a, vec![a]),
        (0, a, 1, a, vec![a]),
        (1, a, 0, empty, vec![]),
        (2, a, 1, a, vec![]),
        (1, a, 2, hash(ROOTS[2]), vec![]),
        (1, a, u64::MAX, a, vec![a; 70]),
        (u64::MAX - 1, a, u64::MAX, a, vec![a; 70]),
        (u64::MAX, a, u64::MAX, a, vec![a]),
        (1 << 63, a, u64::MAX, a, vec![]),
    ] {
        assert!(!verify_consistency(m, &old_root, n, &top, &proof), "{m} to {n}");
    }
    assert_eq!(consistency_proof(&leaves, 0), None);
    assert_eq!(consistency_proof(&leaves, 9), None);
}
