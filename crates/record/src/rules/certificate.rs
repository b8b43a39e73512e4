//! Filing a certificate in the folder of papers.

use crate::refusal::Refusal;

/// Largest file that is filed, in bytes. A certificate scanned in colour has a few megabytes a page; what is larger
/// is something else, or makes every copy of the folder slow.
pub const MOST_BYTES: u64 = 64 << 20;

/// What a path leads to.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum Given {
    /// A file of at least so many bytes; reading stops once they are too many.
    File(u64),
    /// A folder.
    Folder,
    /// A pipe, a device or the like.
    Other,
}

/// Refuses what is not a paper.
///
/// # Errors
/// `paper-not-a-file`, `paper-empty`, `paper-too-large`.
pub fn paper(name: &str, given: Given) -> Result<(), Refusal> {
    let not_filed = |why: &str| format!("{name} was not filed: {why}");
    match given {
        Given::File(0) => Err(Refusal::absolute(
            "paper-empty",
            not_filed("it is empty."),
            "the file has 0 bytes; a copy that broke off looks like that.",
        )
        .next("open the file and look; scan the paper again if it shows nothing")),
        Given::File(bytes) if bytes > MOST_BYTES => Err(Refusal::absolute(
            "paper-too-large",
            not_filed("it is too large for a certificate."),
            // A pipe is not read to its end, so the number is a least one.
            format!("it has {bytes} bytes or more, and at most {MOST_BYTES} (64 MiB) are filed."),
        )
        .next("scan it in black and white or at a lower resolution, or file its pages one by one")),
        Given::File(_) => Ok(()),
        Given::Folder => Err(Refusal::absolute(
            "paper-not-a-file",
            not_filed("it is a folder."),
            "one paper is one file, so that it can be compared by its hash.",
        )
        .next("file what is in it, file by file")),
        Given::Other => Err(Refusal::absolute(
            "paper-not-a-file",
            not_filed("it is not a plain file."),
            "a pipe or a device has no end that could be kept.",
        )
        .next("save it as a file first, or pass it through standard input: - as the file, with --name")),
    }
}

/// What filing looks at.
#[derive(Debug)]
pub struct State<'a> {
    /// Certificate number.
    pub certificate: &'a str,
    /// Short id of the entry by which this very paper is filed under this number for all these lots, where the folder
    /// still has it as it was filed.
    pub already: Option<&'a str>,
    /// Those of the lots whose every receipt was voided.
    pub void_lots: Vec<&'a str>,
}

/// Everything that speaks against filing it.
pub fn decide(state: &State<'_>) -> Vec<Refusal> {
    let not_filed = |why: &str| format!("certificate {} was not filed: {why}", state.certificate);
    let mut against = Vec::new();
    if let Some(entry) = state.already {
        against.push(
            Refusal::absolute(
                "already-filed",
                not_filed("it is filed already."),
                format!("entry {entry} has the same file under the same number for these lots."),
            )
            .next("for a further lot, name it with --lot"),
        );
    }
    for lot in &state.void_lots {
        against.push(
            Refusal::absolute(
                "lot-void",
                not_filed(&format!("the receipt of lot {lot} was voided.")),
                "by the record it was never received.",
            )
            .next("book it in again with: rodbook receive"),
        );
    }
    against
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn what_is_a_paper() {
        let code = |given| paper("a.pdf", given).err().map(|r| r.code);
        for (given, expected) in [
            (Given::File(1), None),
            (Given::File(MOST_BYTES), None),
            (Given::File(0), Some("paper-empty")),
            (Given::File(MOST_BYTES + 1), Some("paper-too-large")),
            (Given::File(u64::MAX), Some("paper-too-large")),
            (Given::Folder, Some("paper-not-a-file")),
            (Given::Other, Some("paper-not-a-file")),
        ] {
            assert_eq!(code(given), expected, "{given:?}");
        }
        let refusal = paper("a.pdf", Given::File(MOST_BYTES + 1)).unwrap_err();
        assert!(refusal.why.contains("67108865") && refusal.why.contains("67108864"), "{}", refusal.why);
        assert!(!refusal.may_override);
    }

    #[test]
    fn table() {
        let codes = |already, void_lots| {
            let state = State { certificate: "C-1", already, void_lots };
            decide(&state).iter().map(|r| r.code).collect::<Vec<_>>()
        };
        let none: Vec<&str> = vec![];
        assert_eq!(codes(None, vec![]), none);
        assert_eq!(codes(Some("ABCD"), vec![]), ["already-filed"]);
        assert_eq!(codes(None, vec!["L-1", "L-2"]), ["lot-void", "lot-void"]);
        assert_eq!(codes(Some("ABCD"), vec!["L-1"]), ["already-filed", "lot-void"]);
    }
}
