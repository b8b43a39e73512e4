//! The quick way to a canonical line: straight from a value to its bytes, without a tree of JSON values between.
//!
//! Only what is in canonical form as it comes is written: fields in ascending order, plain integers, allowed characters.
//! For anything else this gives up and says nothing, and the slow way of [`super::write`] sorts the fields or names the
//! reason. So both ways give the same bytes or the same refusal.

use super::{MAX_DEPTH, MAX_INTEGER, MAX_KEY, forbidden_char, is_key};
use serde::Serialize;
use serde_json::ser::{CharEscape, Formatter, Serializer};
use std::io::{Error, Result, Write};

/// Appends what `serialize` writes, which stands inside `depth` objects or lists. False, and `out` as it was, when it is
/// not canonical as it comes.
pub(crate) fn write_into<T: Serialize + ?Sized>(value: &T, depth: usize, out: &mut Vec<u8>) -> bool {
    let start = out.len();
    let mut serializer = Serializer::with_formatter(&mut *out, Strict { depth, keys: Vec::new(), key: None });
    let written = value.serialize(&mut serializer).is_ok();
    if !written {
        out.truncate(start);
    }
    written
}

/// A key of at most [`MAX_KEY`] bytes.
#[derive(Clone, Copy, Default)]
struct Key {
    bytes: [u8; MAX_KEY],
    length: usize,
}

impl Key {
    fn text(&self) -> &[u8] {
        self.bytes.get(..self.length).unwrap_or_default()
    }

    fn push(&mut self, fragment: &str) -> Result<()> {
        let end = self.length.saturating_add(fragment.len());
        match self.bytes.get_mut(self.length..end) {
            Some(room) => room.copy_from_slice(fragment.as_bytes()),
            None => return give_up(),
        }
        self.length = end;
        Ok(())
    }
}

/// Writes as serde_json's compact printer does, and gives up where that is not canonical.
struct Strict {
    depth: usize,
    /// The last key of each object that is open; of a list, nothing.
    keys: Vec<Key>,
    /// The key being written.
    key: Option<Key>,
}

fn give_up<T>() -> Result<T> {
    Err(Error::other("not canonical as it comes"))
}

impl Strict {
    fn open(&mut self) -> Result<()> {
        if self.depth >= MAX_DEPTH {
            return give_up();
        }
        self.depth = self.depth.saturating_add(1);
        self.keys.push(Key::default());
        Ok(())
    }

    fn close(&mut self) {
        self.depth = self.depth.saturating_sub(1);
        self.keys.pop();
    }

    fn integer<W: Write + ?Sized>(&self, writer: &mut W, n: Option<i64>) -> Result<()> {
        // A number as a key would be written in quotes.
        match n.filter(|n| (-MAX_INTEGER..=MAX_INTEGER).contains(n) && self.key.is_none()) {
            Some(n) => write!(writer, "{n}"),
            None => give_up(),
        }
    }
}

impl Formatter for Strict {
    fn write_i8<W: Write + ?Sized>(&mut self, writer: &mut W, n: i8) -> Result<()> {
        self.integer(writer, Some(n.into()))
    }
    fn write_i16<W: Write + ?Sized>(&mut self, writer: &mut W, n: i16) -> Result<()> {
        self.integer(writer, Some(n.into()))
    }
    fn write_i32<W: Write + ?Sized>(&mut self, writer: &mut W, n: i32) -> Result<()> {
        self.integer(writer, Some(n.into()))
    }
    fn write_i64<W: Write + ?Sized>(&mut self, writer: &mut W, n: i64) -> Result<()> {
        self.integer(writer, Some(n))
    }
    fn write_i128<W: Write + ?Sized>(&mut self, writer: &mut W, n: i128) -> Result<()> {
        self.integer(writer, i64::try_from(n).ok())
    }
    fn write_u8<W: Write + ?Sized>(&mut self, writer: &mut W, n: u8) -> Result<()> {
        self.integer(writer, Some(n.into()))
    }
    fn write_u16<W: Write + ?Sized>(&mut self, writer: &mut W, n: u16) -> Result<()> {
        self.integer(writer, Some(n.into()))
    }
    fn write_u32<W: Write + ?Sized>(&mut self, writer: &mut W, n: u32) -> Result<()> {
        self.integer(writer, Some(n.into()))
    }
    fn write_u64<W: Write + ?Sized>(&mut self, writer: &mut W, n: u64) -> Result<()> {
        self.integer(writer, i64::try_from(n).ok())
    }
    fn write_u128<W: Write + ?Sized>(&mut self, writer: &mut W, n: u128) -> Result<()> {
        self.integer(writer, i64::try_from(n).ok())
    }
    fn write_f32<W: Write + ?Sized>(&mut self, _: &mut W, _: f32) -> Result<()> {
        give_up()
    }
    fn write_f64<W: Write + ?Sized>(&mut self, _: &mut W, _: f64) -> Result<()> {
        give_up()
    }
    fn write_number_str<W: Write + ?Sized>(&mut self, _: &mut W, _: &str) -> Result<()> {
        give_up()
    }
    fn write_raw_fragment<W: Write + ?Sized>(&mut self, _: &mut W, _: &str) -> Result<()> {
        give_up()
    }

    fn write_string_fragment<W: Write + ?Sized>(&mut self, writer: &mut W, fragment: &str) -> Result<()> {
        match &mut self.key {
            Some(key) => key.push(fragment)?,
            None if forbidden_char(fragment).is_some() => return give_up(),
            None => {}
        }
        writer.write_all(fragment.as_bytes())
    }

    fn write_char_escape<W: Write + ?Sized>(&mut self, writer: &mut W, escape: CharEscape) -> Result<()> {
        let bytes = match escape {
            CharEscape::Quote => b"\\\"",
            CharEscape::ReverseSolidus => b"\\\\",
            CharEscape::LineFeed => b"\\n",
            CharEscape::Solidus
            | CharEscape::Backspace
            | CharEscape::FormFeed
            | CharEscape::CarriageReturn
            | CharEscape::Tab
            | CharEscape::AsciiControl(_) => return give_up(),
        };
        if self.key.is_some() {
            return give_up();
        }
        writer.write_all(bytes)
    }

    fn begin_array<W: Write + ?Sized>(&mut self, writer: &mut W) -> Result<()> {
        self.open()?;
        writer.write_all(b"[")
    }

    fn end_array<W: Write + ?Sized>(&mut self, writer: &mut W) -> Result<()> {
        self.close();
        writer.write_all(b"]")
    }

    fn begin_object<W: Write + ?Sized>(&mut self, writer: &mut W) -> Result<()> {
        self.open()?;
        writer.write_all(b"{")
    }

    fn end_object<W: Write + ?Sized>(&mut self, writer: &mut W) -> Result<()> {
        self.close();
        writer.write_all(b"}")
    }

    fn begin_object_key<W: Write + ?Sized>(&mut self, writer: &mut W, first: bool) -> Result<()> {
        self.key = Some(Key::default());
        if first { Ok(()) } else { writer.write_all(b",") }
    }

    fn end_object_key<W: Write + ?Sized>(&mut self, _: &mut W) -> Result<()> {
        let (Some(key), Some(last)) = (self.key.take(), self.keys.last_mut()) else {
            return give_up();
        };
        // The empty key that every object begins with is below every other.
        if last.text() >= key.text() || !std::str::from_utf8(key.text()).is_ok_and(is_key) {
            return give_up();
        }
        *last = key;
        Ok(())
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use proptest::prelude::*;
    use serde_json::{Value, json};

    fn direct(value: &impl Serialize) -> Option<String> {
        let mut out = b"before".to_vec();
        let written = write_into(value, 0, &mut out);
        let text = String::from_utf8(out).unwrap().strip_prefix("before").unwrap().to_owned();
        assert!(written || text.is_empty(), "nothing is left behind");
        written.then_some(text)
    }

    #[derive(Serialize)]
    struct Unsorted {
        b: i64,
        a: i64,
    }

    #[test]
    fn gives_up_on_what_is_not_canonical_as_it_comes() {
        assert_eq!(
            direct(&json!({"a": [1, "x\n\"\\\u{e9}"], "b": null})).unwrap(),
            "{\"a\":[1,\"x\\n\\\"\\\\\u{e9}\"],\"b\":null}"
        );
        assert_eq!(direct(&Unsorted { b: 1, a: 2 }), None);
        for value in [
            json!({"A": 1}),
            json!({"": 1}),
            json!({"a\n": 1}),
            json!({"k".repeat(33): 1}),
            json!("\t"),
            json!("\u{7f}"),
            json!("\u{2028}"),
            json!(0.5),
            json!(MAX_INTEGER + 1),
            json!(u64::MAX),
        ] {
            assert_eq!(direct(&value), None, "{value}");
        }
        assert_eq!(direct(&std::collections::BTreeMap::from([(1, 2)])), None, "a number as a key");
        let nested = |n: usize| (0..n).fold(json!(0), |v, _| json!([v]));
        assert!(direct(&nested(MAX_DEPTH)).is_some() && direct(&nested(MAX_DEPTH + 1)).is_none());
    }

    fn values() -> impl Strategy<Value = Value> {
        let leaf = prop_oneof![
            Just(Value::Null),
            any::<bool>().prop_map(Value::from),
            any::<i64>().prop_map(Value::from),
            (-9_i64..9).prop_map(Value::from),
            ".{0,6}".prop_map(Value::from),
            "[ -~]{0,6}".prop_map(Value::from),
        ];
        leaf.prop_recursive(10, 40, 4, |inner| {
            prop_oneof![
                prop::collection::vec(inner.clone(), 0..4).prop_map(Value::from),
                prop::collection::btree_map("[a-c_]{1,3}|[A-c]{0,2}", inner, 0..4)
                    .prop_map(|m| Value::Object(m.into_iter().collect())),
            ]
        })
    }

    proptest! {
        // Where the quick way writes, the slow way writes the same; where the slow way refuses, the quick one gives up.
        #[test]
        fn writes_what_the_slow_way_writes(value in values()) {
            match super::super::write(&value) {
                Ok(line) => prop_assert_eq!(direct(&value).map(String::into_bytes), Some(line)),
                Err(_) => prop_assert_eq!(direct(&value), None),
            }
        }
    }
}
