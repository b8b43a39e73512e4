//! What the tests of the findings share: a second implementation, random shops, orders of telling.

mod masses;
pub(crate) mod oracle;
pub(crate) mod orders;
pub(crate) mod raw;
pub(crate) mod shop;
