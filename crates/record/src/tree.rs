//! The Merkle tree over a station's entries, as in RFC 6962 section 2.1 and RFC 9162 section 2.1.
//!
//! A leaf is hashed with the prefix 0x00, a node with 0x01, so that a node can never be passed off as a leaf. The
//! algorithms of the two verifiers are those of RFC 9162 sections 2.1.3.2 and 2.1.4.2.

use sha2::{Digest as _, Sha256};

/// A SHA-256 value.
pub type Hash = [u8; 32];

/// The greatest number of leaves, 2^53−1: the greatest integer that the record can write.
pub const MAX_SIZE: u64 = 9_007_199_254_740_991;

/// SHA-256(0x00 ‖ data). Of an entry's line this is the entry's id.
#[must_use]
pub fn leaf_hash(data: &[u8]) -> Hash {
    Sha256::new().chain_update([0x00]).chain_update(data).finalize().into()
}

/// SHA-256(0x01 ‖ left ‖ right).
#[must_use]
pub fn node_hash(left: &Hash, right: &Hash) -> Hash {
    Sha256::new().chain_update([0x01]).chain_update(left).chain_update(right).finalize().into()
}

/// The root of the tree without leaves: SHA-256 of nothing.
#[must_use]
pub fn empty_root() -> Hash {
    Sha256::digest([]).into()
}

/// The root over these leaf hashes, straight from the recursive definition.
#[must_use]
pub fn root(leaves: &[Hash]) -> Hash {
    match leaves {
        [] => empty_root(),
        [leaf] => *leaf,
        more => {
            let (left, right) = more.split_at(split_point(more.len()));
            node_hash(&root(left), &root(right))
        }
    }
}

/// The largest power of two below `n`, for `n` of at least 2 (below that: 0, which no caller asks for).
const fn split_point(n: usize) -> usize {
    match n.saturating_sub(1).checked_ilog2() {
        Some(exponent) => 1 << exponent,
        None => 0,
    }
}

/// The right edge of a growing tree: the roots of its complete subtrees, largest first, one per bit set in the size.
/// Enough to append and to give the root without keeping the leaves.
#[derive(Debug, Clone, PartialEq, Eq, Default)]
pub struct Frontier {
    size: u64,
    roots: Vec<Hash>,
}

/// Why bytes are not a stored [`Frontier`].
#[derive(Debug, Clone, Copy, PartialEq, Eq, thiserror::Error)]
pub enum FrontierError {
    /// Fewer than the eight bytes of the size.
    #[error("a tree edge has at least 8 bytes; here are {bytes}")]
    TooShort {
        /// Bytes given.
        bytes: usize,
    },
    /// The size is beyond [`MAX_SIZE`].
    #[error("a tree of {size} leaves is beyond {MAX_SIZE}")]
    TooBig {
        /// Leaves claimed.
        size: u64,
    },
    /// Not one hash per bit set in the size.
    #[error("the edge of a tree of {size} leaves has {expected} bytes; here are {bytes}")]
    Length {
        /// Leaves claimed.
        size: u64,
        /// Bytes that such an edge has.
        expected: usize,
        /// Bytes given.
        bytes: usize,
    },
}

impl Frontier {
    /// The edge of the empty tree.
    #[must_use]
    pub const fn new() -> Self {
        Self { size: 0, roots: Vec::new() }
    }

    /// The number of leaves.
    #[must_use]
    pub const fn size(&self) -> u64 {
        self.size
    }

    /// Adds one leaf hash on the right.
    pub fn append(&mut self, leaf: Hash) {
        let mut right = leaf;
        // Each trailing 1 bit of the old size is a complete subtree as large as what stands to its right by now.
        for _ in 0..self.size.trailing_ones() {
            if let Some(left) = self.roots.pop() {
                right = node_hash(&left, &right);
            }
        }
        self.roots.push(right);
        // 2^64 leaves cannot be appended, and from_bytes starts at no more than MAX_SIZE.
        self.size = self.size.saturating_add(1);
    }

    /// The root of the tree so far.
    #[must_use]
    pub fn root(&self) -> Hash {
        self.roots
            .iter()
            .rev()
            .copied()
            .reduce(|right, left| node_hash(&left, &right))
            .unwrap_or_else(empty_root)
    }

    /// Eight bytes of size, most significant first, then the subtree roots, largest subtree first.
    #[must_use]
    pub fn to_bytes(&self) -> Vec<u8> {
        let mut bytes = self.size.to_be_bytes().to_vec();
        bytes.extend(self.roots.iter().flatten());
        bytes
    }

    /// The edge stored by [`Frontier::to_bytes`].
    ///
    /// # Errors
    /// When the length does not fit the size, or the size is beyond [`MAX_SIZE`].
    pub fn from_bytes(bytes: &[u8]) -> Result<Self, FrontierError> {
        let Some((size, rest)) = bytes.split_first_chunk::<8>() else {
            return Err(FrontierError::TooShort { bytes: bytes.len() });
        };
        let size = u64::from_be_bytes(*size);
        if size > MAX_SIZE {
            return Err(FrontierError::TooBig { size });
        }
        let (roots, odd) = rest.as_chunks::<32>();
        let count = size.count_ones() as usize;
        if roots.len() != count || !odd.is_empty() {
            let expected = count.saturating_mul(32).saturating_add(8);
            return Err(FrontierError::Length { size, expected, bytes: bytes.len() });
        }
        Ok(Self { size, roots: roots.to_vec() })
    }
}

/// The audit path of leaf `index`, lowest first; none when there is no such leaf. RFC 9162 section 2.1.3.1.
#[must_use]
pub fn inclusion_proof(leaves: &[Hash], index: usize) -> Option<Vec<Hash>> {
    if index >= leaves.len() {
        return None;
    }
    let (mut leaves, mut index, mut path) = (leaves, index, Vec::new());
    while leaves.len() > 1 {
        let split = split_point(leaves.len());
        let (left, right) = leaves.split_at(split);
        if let Some(in_right) = index.checked_sub(split) {
            path.push(root(left));
            (leaves, index) = (right, in_right);
        } else {
            path.push(root(right));
            leaves = left;
        }
    }
    path.reverse();
    Some(path)
}

/// Whether `proof` shows that `leaf` (a leaf hash) is number `index` in the tree of `size` leaves with this `root`.
/// RFC 9162 section 2.1.3.2; a proof that is too long or too short fails.
#[must_use]
pub fn verify_inclusion(leaf: &Hash, index: u64, size: u64, proof: &[Hash], root: &Hash) -> bool {
    if index >= size {
        return false;
    }
    let (mut at, mut last, mut hash) = (index, size.saturating_sub(1), *leaf);
    for sibling in proof {
        if last == 0 {
            return false;
        }
        if at & 1 == 1 || at == last {
            hash = node_hash(sibling, &hash);
            if at & 1 == 0 {
                // A right edge without sibling on these levels. `at` is not 0 here, since it equals `last`.
                let levels = at.trailing_zeros();
                (at, last) = (shifted(at, levels), shifted(last, levels));
            }
        } else {
            hash = node_hash(&hash, sibling);
        }
        (at, last) = (at >> 1, last >> 1);
    }
    last == 0 && hash == *root
}

/// The proof that the first `old_size` leaves are a prefix of `leaves`; none unless 1 ≤ `old_size` ≤ number of leaves.
/// Empty for equal sizes. RFC 9162 section 2.1.4.1.
#[must_use]
pub fn consistency_proof(leaves: &[Hash], old_size: usize) -> Option<Vec<Hash>> {
    if old_size == 0 || old_size > leaves.len() {
        return None;
    }
    let (mut leaves, mut old, mut path) = (leaves, old_size, Vec::new());
    // Whether the old tree is still a whole left part whose root the verifier already has.
    let mut known = true;
    while old < leaves.len() {
        let split = split_point(leaves.len());
        let (left, right) = leaves.split_at(split);
        if old <= split {
            path.push(root(right));
            leaves = left;
        } else {
            path.push(root(left));
            leaves = right;
            old = old.saturating_sub(split);
            known = false;
        }
    }
    if !known {
        path.push(root(leaves));
    }
    path.reverse();
    Some(path)
}

/// Whether `proof` shows that the tree of `size` leaves with root `root` only adds to the tree of `old_size` leaves with
/// root `old_root`. RFC 9162 section 2.1.4.2.
///
/// Equal sizes need equal roots and no proof. From the empty tree nothing can be shown, so `old_size` 0 fails unless both
/// are the empty tree.
#[must_use]
pub fn verify_consistency(old_size: u64, old_root: &Hash, size: u64, root: &Hash, proof: &[Hash]) -> bool {
    if old_size == size {
        return proof.is_empty() && old_root == root && (size > 0 || *root == empty_root());
    }
    if old_size == 0 || old_size > size {
        return false;
    }
    let (mut at, mut last) = (old_size.saturating_sub(1), size.saturating_sub(1));
    let complete = at.trailing_ones();
    (at, last) = (shifted(at, complete), shifted(last, complete));
    // An old tree that is one complete subtree is its own first node; otherwise the proof starts with that node.
    let (first, rest) = if old_size.is_power_of_two() {
        if proof.is_empty() {
            return false;
        }
        (old_root, proof)
    } else {
        match proof.split_first() {
            Some(parts) => parts,
            None => return false,
        }
    };
    let (mut old_hash, mut new_hash) = (*first, *first);
    for node in rest {
        if last == 0 {
            return false;
        }
        if at & 1 == 1 || at == last {
            old_hash = node_hash(node, &old_hash);
            new_hash = node_hash(node, &new_hash);
            if at & 1 == 0 {
                let levels = at.trailing_zeros();
                (at, last) = (shifted(at, levels), shifted(last, levels));
            }
        } else {
            new_hash = node_hash(&new_hash, node);
        }
        (at, last) = (at >> 1, last >> 1);
    }
    last == 0 && old_hash == *old_root && new_hash == *root
}

/// `n` shifted right, 0 for a shift of the whole width.
fn shifted(n: u64, levels: u32) -> u64 {
    n.checked_shr(levels).unwrap_or(0)
}
