//! Canonical lines: one fact, one sequence of bytes.
//!
//! A line of the record is RFC 8785 (JSON Canonicalization Scheme) with everything removed on which two JSON
//! printers could disagree: no floats, integers within ±(2^53−1), keys of lower-case ASCII, strings without
//! control characters, line separators and non-characters, nesting bounded, length bounded. What is left is what any
//! language prints once it sorts keys, writes no blanks and escapes nothing beyond `"`, `\` and line feed.

use std::fmt;
use std::io::Write as _;

use serde_json::{Map, Number, Value};

pub(crate) mod direct;

/// The longest line, in bytes, without its line feed.
pub const MAX_LINE: usize = 65_536;

/// The deepest nesting of objects and lists. The outermost object (the entry itself) is depth 1, its `body` depth 2;
/// strings, integers, true, false and null add nothing.
pub const MAX_DEPTH: usize = 8;

/// The largest integer, 2^53−1; the least is its negative. Beyond it a double cannot tell neighbours apart (RFC 7493
/// section 2.2), and many JSON parsers read every number as a double.
pub const MAX_INTEGER: i64 = 9_007_199_254_740_991;

/// The longest object key, in characters.
pub const MAX_KEY: usize = 32;

/// Why a value has no canonical line, or a line is not canonical. `place` is the key path, `body.heats[2]` for
/// example, or `the line` for the outermost value.
#[derive(Debug, Clone, PartialEq, Eq, thiserror::Error)]
pub enum CanonicalError {
    /// The line is longer than [`MAX_LINE`].
    #[error("the line has {bytes} bytes; at most {MAX_LINE} are allowed")]
    TooLong {
        /// The length found.
        bytes: usize,
    },
    /// The line is not JSON at all, or not UTF-8.
    #[error("the line is not JSON: {reason}")]
    NotJson {
        /// The parser's reason, with its column.
        reason: String,
    },
    /// Objects and lists are nested deeper than [`MAX_DEPTH`].
    #[error("{place}: nested deeper than {MAX_DEPTH} levels")]
    TooDeep {
        /// Key path.
        place: String,
    },
    /// A key is not `[a-z][a-z0-9_]*` of at most [`MAX_KEY`] characters.
    #[error(
        "{place}: the key {key:?} must be lower-case letters, digits and underscores, a letter first, at most {MAX_KEY} characters"
    )]
    Key {
        /// Key path of the object that holds the key.
        place: String,
        /// The key.
        key: String,
    },
    /// A number with a fraction or an exponent, minus zero, or an integer too big for any integer type.
    #[error("{place}: {number} is not a plain integer; write it as an integer of a smaller unit, or as text")]
    NotInteger {
        /// Key path.
        place: String,
        /// The number as parsed.
        number: String,
    },
    /// An integer beyond ±[`MAX_INTEGER`].
    #[error("{place}: {number} is beyond ±{MAX_INTEGER}")]
    IntegerRange {
        /// Key path.
        place: String,
        /// The number as parsed.
        number: String,
    },
    /// A string holds a character that the record does not allow.
    #[error("{place}: the character U+{:04X} is not allowed in text", u32::from(*character))]
    Character {
        /// Key path.
        place: String,
        /// The first such character.
        character: char,
    },
    /// The JSON says something canonical, but not in canonical bytes.
    #[error("{place}: {deviation} at byte {byte}")]
    NotCanonical {
        /// Key path.
        place: String,
        /// What differs.
        deviation: Deviation,
        /// Where in the line, counted from 0.
        byte: usize,
    },
}

/// How the bytes of a line differ from the canonical bytes of the same value.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum Deviation {
    /// A space, tab, carriage return or line feed outside a string.
    Blank,
    /// The same key twice in one object.
    DuplicateKey,
    /// Keys not in ascending order.
    KeyOrder,
    /// An escape other than `\"`, `\\` and `\n`.
    Escape,
    /// Anything else.
    Other,
}

impl fmt::Display for Deviation {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        f.write_str(match self {
            Self::Blank => "a blank outside a string",
            Self::DuplicateKey => "a key given twice",
            Self::KeyOrder => "a key out of order",
            Self::Escape => "an escape that is not needed",
            Self::Other => "bytes that differ from the canonical form",
        })
    }
}

/// The canonical line of `value`, without a line feed.
///
/// # Errors
/// When the value holds something the record does not allow; the reason names the key path.
pub fn write(value: &Value) -> Result<Vec<u8>, CanonicalError> {
    let mut out = Vec::with_capacity(512);
    write_into(value, &mut out)?;
    Ok(out)
}

/// Appends the canonical line of `value` to `out`; on an error `out` is left as it was.
///
/// # Errors
/// As [`write`].
pub fn write_into(value: &Value, out: &mut Vec<u8>) -> Result<(), CanonicalError> {
    let start = out.len();
    let result = put(value, out, &Path::Line, 0).and_then(|()| match out.len().saturating_sub(start) {
        bytes if bytes > MAX_LINE => Err(CanonicalError::TooLong { bytes }),
        _ => Ok(()),
    });
    if result.is_err() {
        out.truncate(start);
    }
    result
}

/// Parses a line (without its line feed), and refuses it unless it is byte for byte the canonical form of what it says.
///
/// # Errors
/// When the line is not JSON, holds something the record does not allow, or is not in canonical form.
pub fn read(line: &[u8]) -> Result<Value, CanonicalError> {
    if line.len() > MAX_LINE {
        return Err(CanonicalError::TooLong { bytes: line.len() });
    }
    let value: Value =
        serde_json::from_slice(line).map_err(|e| CanonicalError::NotJson { reason: e.to_string() })?;
    let mut printed = Vec::with_capacity(line.len());
    write_into(&value, &mut printed)?;
    // The parser keeps the last of two equal keys and forgets blanks and escapes; only the bytes tell.
    if printed == line { Ok(value) } else { Err(deviation(line, &printed)) }
}

/// The first character of `text` that the record does not allow: C0 controls other than line feed, DEL, C1 controls,
/// U+2028, U+2029, U+FFFE, U+FFFF. (A Rust string cannot hold a surrogate.)
#[must_use]
pub fn forbidden_char(text: &str) -> Option<char> {
    if text.bytes().all(|b| matches!(b, b' '..=b'~' | b'\n')) {
        return None;
    }
    text.chars().find(|&c| is_forbidden(c))
}

const fn is_forbidden(c: char) -> bool {
    matches!(
        c,
        '\0'..='\x09' | '\x0b'..='\x1f' | '\x7f'..='\u{9f}' | '\u{2028}' | '\u{2029}' | '\u{fffe}' | '\u{ffff}'
    )
}

/// Where the writer is: a list of steps on the call stack, turned into text only for an error.
enum Path<'a> {
    Line,
    Key(&'a Path<'a>, &'a str),
    Index(&'a Path<'a>, usize),
}

impl fmt::Display for Path<'_> {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        match self {
            Self::Line => f.write_str("the line"),
            Self::Key(Self::Line, key) => f.write_str(key),
            Self::Key(parent, key) => write!(f, "{parent}.{key}"),
            Self::Index(Self::Line, index) => write!(f, "[{index}]"),
            Self::Index(parent, index) => write!(f, "{parent}[{index}]"),
        }
    }
}

fn put(value: &Value, out: &mut Vec<u8>, path: &Path<'_>, depth: usize) -> Result<(), CanonicalError> {
    match value {
        Value::Null => out.extend_from_slice(b"null"),
        Value::Bool(true) => out.extend_from_slice(b"true"),
        Value::Bool(false) => out.extend_from_slice(b"false"),
        Value::Number(number) => put_number(number, out, path)?,
        Value::String(text) => put_string(text, out, path)?,
        Value::Array(items) => {
            let depth = deeper(depth, path)?;
            out.push(b'[');
            for (index, item) in items.iter().enumerate() {
                if index > 0 {
                    out.push(b',');
                }
                put(item, out, &Path::Index(path, index), depth)?;
            }
            out.push(b']');
        }
        Value::Object(map) => {
            let depth = deeper(depth, path)?;
            out.push(b'{');
            put_members(map, out, path, depth)?;
            out.push(b'}');
        }
    }
    Ok(())
}

fn put_members(
    map: &Map<String, Value>,
    out: &mut Vec<u8>,
    path: &Path<'_>,
    depth: usize,
) -> Result<(), CanonicalError> {
    // serde_json's map is sorted unless some crate in the build switches its `preserve_order` feature on; the record
    // must not depend on that.
    if map.keys().is_sorted() {
        return map.iter().enumerate().try_for_each(|(n, (k, v))| put_member(n, k, v, out, path, depth));
    }
    let mut members: Vec<_> = map.iter().collect();
    members.sort_unstable_by_key(|(key, _)| *key);
    members.into_iter().enumerate().try_for_each(|(n, (k, v))| put_member(n, k, v, out, path, depth))
}

fn put_member(
    n: usize,
    key: &str,
    value: &Value,
    out: &mut Vec<u8>,
    path: &Path<'_>,
    depth: usize,
) -> Result<(), CanonicalError> {
    if !is_key(key) {
        return Err(CanonicalError::Key { place: path.to_string(), key: key.to_owned() });
    }
    out.extend_from_slice(if n > 0 { b",\"" } else { b"\"" });
    out.extend_from_slice(key.as_bytes());
    out.extend_from_slice(b"\":");
    put(value, out, &Path::Key(path, key), depth)
}

fn deeper(depth: usize, path: &Path<'_>) -> Result<usize, CanonicalError> {
    if depth < MAX_DEPTH {
        Ok(depth.saturating_add(1))
    } else {
        Err(CanonicalError::TooDeep { place: path.to_string() })
    }
}

fn is_key(key: &str) -> bool {
    key.len() <= MAX_KEY
        && key.starts_with(|c: char| c.is_ascii_lowercase())
        && key.bytes().all(|b| matches!(b, b'a'..=b'z' | b'0'..=b'9' | b'_'))
}

fn put_number(number: &Number, out: &mut Vec<u8>, path: &Path<'_>) -> Result<(), CanonicalError> {
    match number.as_i64() {
        Some(n) if (-MAX_INTEGER..=MAX_INTEGER).contains(&n) => {
            // Writing to a Vec cannot fail.
            let _ = write!(out, "{n}");
            Ok(())
        }
        Some(n) => Err(CanonicalError::IntegerRange { place: path.to_string(), number: n.to_string() }),
        None if number.is_u64() => {
            Err(CanonicalError::IntegerRange { place: path.to_string(), number: number.to_string() })
        }
        None => Err(CanonicalError::NotInteger { place: path.to_string(), number: number.to_string() }),
    }
}

fn put_string(text: &str, out: &mut Vec<u8>, path: &Path<'_>) -> Result<(), CanonicalError> {
    out.push(b'"');
    // Nearly every string is printable ASCII without a quote: one branch-free pass, one copy.
    if text.bytes().fold(true, |plain, b| plain & matches!(b, b' '..=b'~') & (b != b'"') & (b != b'\\')) {
        out.extend_from_slice(text.as_bytes());
    } else {
        let mut buffer = [0_u8; 4];
        for c in text.chars() {
            match c {
                '"' => out.extend_from_slice(b"\\\""),
                '\\' => out.extend_from_slice(b"\\\\"),
                '\n' => out.extend_from_slice(b"\\n"),
                c if is_forbidden(c) => {
                    return Err(CanonicalError::Character { place: path.to_string(), character: c });
                }
                c => out.extend_from_slice(c.encode_utf8(&mut buffer).as_bytes()),
            }
        }
    }
    out.push(b'"');
    Ok(())
}

/// Names the first deviation of a line that is known to be JSON. Runs only for a line already refused.
fn deviation(line: &[u8], printed: &[u8]) -> CanonicalError {
    let mut scan = Scan { line, at: 0, steps: Vec::new() };
    let (deviation, byte) = match scan.value() {
        Err(found) => found,
        // Nothing recognised: the first byte that differs.
        Ok(()) if scan.at < line.len() => (Deviation::Blank, scan.at),
        Ok(()) => {
            let same = line.iter().zip(printed).take_while(|(a, b)| a == b).count();
            (Deviation::Other, same)
        }
    };
    let mut place = String::new();
    for step in &scan.steps {
        if !place.is_empty() && !step.starts_with('[') {
            place.push('.');
        }
        place.push_str(step);
    }
    if place.is_empty() {
        place.push_str("the line");
    }
    CanonicalError::NotCanonical { place, deviation, byte }
}

/// A walk over JSON text that stops at the first blank, repeated or misplaced key, or needless escape.
struct Scan<'a> {
    line: &'a [u8],
    at: usize,
    steps: Vec<String>,
}

type Found = (Deviation, usize);

impl Scan<'_> {
    fn peek(&self) -> Option<u8> {
        self.line.get(self.at).copied()
    }

    fn step(&mut self) {
        self.at = self.at.saturating_add(1);
    }

    /// Takes one byte of structure; anything else here can only be a blank.
    fn take(&mut self, byte: u8) -> Result<(), Found> {
        if self.peek() == Some(byte) {
            self.step();
            Ok(())
        } else {
            Err(self.odd())
        }
    }

    fn odd(&self) -> Found {
        match self.peek() {
            Some(b' ' | b'\t' | b'\r' | b'\n') => (Deviation::Blank, self.at),
            Some(_) | None => (Deviation::Other, self.at),
        }
    }

    fn value(&mut self) -> Result<(), Found> {
        match self.peek() {
            Some(b'{') => self.object(),
            Some(b'[') => self.list(),
            Some(b'"') => self.string().map(drop),
            Some(b'-' | b'0'..=b'9' | b'a'..=b'z') => {
                while matches!(self.peek(), Some(b'-' | b'0'..=b'9' | b'a'..=b'z')) {
                    self.step();
                }
                Ok(())
            }
            Some(_) | None => Err(self.odd()),
        }
    }

    fn object(&mut self) -> Result<(), Found> {
        self.take(b'{')?;
        let mut seen: Vec<String> = Vec::new();
        if self.peek() == Some(b'}') {
            return self.take(b'}');
        }
        loop {
            let start = self.at;
            let key = self.string()?;
            self.steps.push(key.clone());
            if seen.contains(&key) {
                return Err((Deviation::DuplicateKey, start));
            }
            if seen.last().is_some_and(|last| *last > key) {
                return Err((Deviation::KeyOrder, start));
            }
            seen.push(key);
            self.take(b':')?;
            self.value()?;
            self.steps.pop();
            if self.peek() == Some(b',') {
                self.step();
            } else {
                return self.take(b'}');
            }
        }
    }

    fn list(&mut self) -> Result<(), Found> {
        self.take(b'[')?;
        if self.peek() == Some(b']') {
            return self.take(b']');
        }
        let mut index = 0_usize;
        loop {
            self.steps.push(format!("[{index}]"));
            self.value()?;
            self.steps.pop();
            index = index.saturating_add(1);
            if self.peek() == Some(b',') {
                self.step();
            } else {
                return self.take(b']');
            }
        }
    }

    fn string(&mut self) -> Result<String, Found> {
        self.take(b'"')?;
        let mut bytes = Vec::new();
        loop {
            match self.peek() {
                Some(b'"') => {
                    self.step();
                    return Ok(String::from_utf8_lossy(&bytes).into_owned());
                }
                Some(b'\\') => {
                    let start = self.at;
                    self.step();
                    if !matches!(self.peek(), Some(b'"' | b'\\' | b'n')) {
                        return Err((Deviation::Escape, start));
                    }
                    bytes.extend(self.peek());
                    self.step();
                }
                Some(byte) => {
                    bytes.push(byte);
                    self.step();
                }
                None => return Err((Deviation::Other, self.at)),
            }
        }
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use serde_json::json;

    fn refused(line: &str) -> String {
        read(line.as_bytes()).expect_err(line).to_string()
    }

    #[test]
    fn keys_are_sorted_and_nothing_needless_is_escaped() {
        let value =
            json!({"b": "a/b <c> & \u{e9} \u{1f600}\n\"\\", "a": [1, -2, null, true, false], "a_1": {}});
        let line = write(&value).unwrap();
        assert_eq!(
            String::from_utf8(line.clone()).unwrap(),
            "{\"a\":[1,-2,null,true,false],\"a_1\":{},\"b\":\"a/b <c> & \u{e9} \u{1f600}\\n\\\"\\\\\"}"
        );
        assert_eq!(read(&line).unwrap(), value);
    }

    #[test]
    fn a_refusal_names_the_place_and_the_cause() {
        for (line, expected) in [
            (r#"{"a":1,"a":2}"#, "a: a key given twice at byte 7"),
            (r#"{"a":{"b":[1,{"c":1,"c":1}]}}"#, "a.b[1].c: a key given twice at byte 20"),
            (r#"{"b":1,"a":2}"#, "a: a key out of order at byte 7"),
            (r#"{"a": 1}"#, "a: a blank outside a string at byte 5"),
            (r#"{"a":[1, 2]}"#, "a[1]: a blank outside a string at byte 8"),
            ("{\"a\":1}\n", "the line: a blank outside a string at byte 7"),
            (" {\"a\":1}", "the line: a blank outside a string at byte 0"),
            ("{ }", "the line: a blank outside a string at byte 1"),
            (r#"{"a":"x\/y"}"#, "a: an escape that is not needed at byte 7"),
            (r#"{"a":"\u0041"}"#, "a: an escape that is not needed at byte 6"),
            (r#"{"a":"\u000a"}"#, "a: an escape that is not needed at byte 6"),
            (r#"{"a":"\ud83d\ude00"}"#, "a: an escape that is not needed at byte 6"),
            (r#"{"\u0061":1}"#, "the line: an escape that is not needed at byte 2"),
        ] {
            assert_eq!(refused(line), expected, "{line}");
        }
        for (line, place) in [
            (r#"{"a":-0}"#, "a: "),
            (r#"{"a":{"b":1.0}}"#, "a.b: "),
            (r#"{"a":[0,1e2]}"#, "a[1]: "),
            (r#"{"a":9007199254740992}"#, "a: 9007199254740992 is beyond"),
            (r#"{"a":-9007199254740992}"#, "a: -9007199254740992 is beyond"),
            (r#"{"a":18446744073709551615}"#, "a: 18446744073709551615 is beyond"),
            (r#"{"a":18446744073709551616}"#, "a: "),
            (r#"{"A":1}"#, "the line: the key \"A\""),
            (r#"{"":1}"#, "the line: the key \"\""),
            (r#"{"a":{"_b":1}}"#, "a: the key \"_b\""),
            ("{\"a\":\"\\t\"}", "a: the character U+0009"),
            ("{\"a\":[\"\u{7f}\"]}", "a[0]: the character U+007F"),
            ("{\"a\":\"\u{85}\"}", "a: the character U+0085"),
            ("{\"a\":\"\u{2028}\"}", "a: the character U+2028"),
            ("{\"a\":\"\u{ffff}\"}", "a: the character U+FFFF"),
            ("{\"a\":\"\\ud800\"}", "the line is not JSON"),
            ("{\"a\":01}", "the line is not JSON"),
            ("{\"a\":1}x", "the line is not JSON"),
            ("\u{feff}{}", "the line is not JSON"),
            ("", "the line is not JSON"),
        ] {
            let reason = refused(line);
            assert!(reason.starts_with(place), "{line}: {reason}");
        }
        assert!(read(b"{\"a\":\"\xff\"}").is_err(), "not UTF-8");
    }

    #[test]
    fn limits_hold_exactly() {
        let nested = |depth: usize| format!("{}{}", "[".repeat(depth), "]".repeat(depth));
        assert!(read(nested(MAX_DEPTH).as_bytes()).is_ok());
        assert!(matches!(read(nested(MAX_DEPTH + 1).as_bytes()), Err(CanonicalError::TooDeep { .. })));
        assert!(read(nested(60_000 / 2).as_bytes()).is_err());

        let text = "x".repeat(MAX_LINE - 2);
        assert_eq!(write(&json!(text)).unwrap().len(), MAX_LINE);
        assert_eq!(write(&json!(format!("{text}x"))), Err(CanonicalError::TooLong { bytes: MAX_LINE + 1 }));
        assert!(read(format!("\"{text}x\"").as_bytes()).is_err());

        // Refused for its length before anything is parsed, whatever it is padded with.
        let padded = format!("{}1", " ".repeat(MAX_LINE));
        assert_eq!(read(padded.as_bytes()), Err(CanonicalError::TooLong { bytes: MAX_LINE + 1 }));

        let key = "k".repeat(MAX_KEY);
        assert!(read(format!("{{\"{key}\":0}}").as_bytes()).is_ok());
        assert!(read(format!("{{\"{key}k\":0}}").as_bytes()).is_err());

        assert!(read(b"9007199254740991").is_ok() && read(b"-9007199254740991").is_ok());
    }

    #[test]
    fn an_error_leaves_the_buffer_alone() {
        let mut out = b"before".to_vec();
        assert!(write_into(&json!({"a": 1, "b": 0.5}), &mut out).is_err());
        assert_eq!(out, b"before");
        write_into(&json!({"a": 1}), &mut out).unwrap();
        assert_eq!(out, b"before{\"a\":1}");
    }

    #[test]
    fn forbidden_characters_are_these_and_no_others() {
        let forbidden: Vec<u32> = (0..=0x10_ffff)
            .filter_map(char::from_u32)
            .filter(|c| forbidden_char(&c.to_string()).is_some())
            .map(u32::from)
            .collect();
        let expected: Vec<u32> = (0..0x20)
            .filter(|c| *c != 0x0a)
            .chain(0x7f..=0x9f)
            .chain([0x2028, 0x2029, 0xfffe, 0xffff])
            .collect();
        assert_eq!(forbidden, expected);
    }
}
