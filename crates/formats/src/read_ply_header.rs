//! The header of a PLY file.

use record::LengthUnit;

use crate::Error;
use crate::read_number::quoted;
use crate::unit_words;

/// How the data are written.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub(crate) enum Order {
    Text,
    Little,
    Big,
}

/// A scalar type.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub(crate) enum Type {
    I8,
    U8,
    I16,
    U16,
    I32,
    U32,
    F32,
    F64,
}

impl Type {
    fn named(word: &str) -> Option<Self> {
        Some(match word {
            "char" | "int8" => Self::I8,
            "uchar" | "uint8" => Self::U8,
            "short" | "int16" => Self::I16,
            "ushort" | "uint16" => Self::U16,
            "int" | "int32" => Self::I32,
            "uint" | "uint32" => Self::U32,
            "float" | "float32" => Self::F32,
            "double" | "float64" => Self::F64,
            _ => return None,
        })
    }

    /// Bytes of one.
    pub fn size(self) -> usize {
        match self {
            Self::I8 | Self::U8 => 1,
            Self::I16 | Self::U16 => 2,
            Self::I32 | Self::U32 | Self::F32 => 4,
            Self::F64 => 8,
        }
    }

    /// Whether it holds fractions.
    pub fn is_float(self) -> bool {
        matches!(self, Self::F32 | Self::F64)
    }

    /// The value at the start of `bytes`, which hold at least one; every type fits an f64.
    #[inline]
    pub fn value(self, bytes: &[u8], order: Order) -> f64 {
        macro_rules! get {
            ($t:ty) => {{
                let mut raw = [0; size_of::<$t>()];
                raw.copy_from_slice(&bytes[..size_of::<$t>()]);
                f64::from(if order == Order::Big {
                    <$t>::from_be_bytes(raw)
                } else {
                    <$t>::from_le_bytes(raw)
                })
            }};
        }
        match self {
            Self::I8 => get!(i8),
            Self::U8 => get!(u8),
            Self::I16 => get!(i16),
            Self::U16 => get!(u16),
            Self::I32 => get!(i32),
            Self::U32 => get!(u32),
            Self::F32 => get!(f32),
            Self::F64 => get!(f64),
        }
    }
}

/// What a property holds.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub(crate) enum Shape {
    One(Type),
    List { count: Type, item: Type },
}

#[derive(Debug)]
pub(crate) struct Property {
    pub name: String,
    pub shape: Shape,
}

#[derive(Debug)]
pub(crate) struct Element {
    pub name: String,
    pub count: u64,
    pub properties: Vec<Property>,
}

impl Element {
    /// Least bytes that one record takes.
    fn least(&self, order: Order) -> u64 {
        let one = |p: &Property| match (order, p.shape) {
            (Order::Text, _) => 2,
            (_, Shape::One(t)) => t.size() as u64,
            (_, Shape::List { count, .. }) => count.size() as u64,
        };
        self.properties.iter().map(one).sum()
    }
}

#[derive(Debug)]
pub(crate) struct Header {
    pub order: Order,
    pub elements: Vec<Element>,
    pub unit: Option<LengthUnit>,
    /// Byte that ends lines.
    pub end: u8,
    /// Bytes of the header.
    pub bytes: usize,
    /// Lines of the header.
    pub lines: u64,
}

/// Reads the header at the start of `head`, which holds the first piece of the file.
pub(crate) fn header(head: &[u8], size: u64) -> Result<Header, Error> {
    let end = match head.iter().find(|b| matches!(b, b'\r' | b'\n')) {
        Some(b'\r') if !head.windows(2).take(100).any(|w| w == b"\r\n") => b'\r',
        _ => b'\n',
    };
    let mut header = Header {
        order: Order::Text,
        elements: Vec::new(),
        unit: None,
        end,
        bytes: 0,
        lines: 0,
    };
    let mut order = None;
    loop {
        let rest = &head[header.bytes..];
        let Some(at) = rest.iter().position(|&b| b == end) else {
            let whole = head.len() as u64 == size;
            let says = "the header ends without \"end_header\"";
            return Err(if whole {
                Error::truncated(says)
            } else {
                Error::malformed(says)
            }
            .at_line(header.lines + 1));
        };
        header.bytes += at + 1;
        header.lines += 1;
        let line = String::from_utf8_lossy(&rest[..at]);
        let line = line.trim();
        if line == "end_header" {
            break;
        }
        header
            .take(line, &mut order)
            .map_err(|e| e.at_line(header.lines))?;
    }
    header.order = order.ok_or_else(|| {
        Error::malformed("expected a line \"format ascii 1.0\" or \"format binary_little_endian 1.0\", found none")
            .at_line(header.lines)
    })?;
    header.fits(size)?;
    Ok(header)
}

impl Header {
    fn take(&mut self, line: &str, order: &mut Option<Order>) -> Result<(), Error> {
        let words: Vec<&str> = line.split_ascii_whitespace().collect();
        match words[..] {
            [] | ["ply"] => {}
            ["comment" | "obj_info", ..] => {
                self.unit = self.unit.or_else(|| unit_words::stated(line));
            }
            ["format", "ascii", ..] => *order = Some(Order::Text),
            ["format", "binary_little_endian", ..] => *order = Some(Order::Little),
            ["format", "binary_big_endian", ..] => *order = Some(Order::Big),
            ["element", name, count] => {
                let count = count.parse().map_err(|_| {
                    Error::malformed(format!(
                        "expected a count of \"{name}\", found {}",
                        quoted(count.as_bytes())
                    ))
                })?;
                self.elements.push(Element {
                    name: name.to_owned(),
                    count,
                    properties: Vec::new(),
                });
            }
            ["property", "list", count, item, name] => {
                let (count, item) = (named(count)?, named(item)?);
                if count.is_float() {
                    return Err(Error::malformed(
                        "expected a whole-number type for the length of a list, found a fraction",
                    ));
                }
                self.property(name, Shape::List { count, item })?;
            }
            ["property", kind, name] => self.property(name, Shape::One(named(kind)?))?,
            _ => {
                return Err(Error::malformed(format!(
                    "expected a line of a PLY header, found {}",
                    quoted(line.as_bytes())
                )));
            }
        }
        Ok(())
    }

    fn property(&mut self, name: &str, shape: Shape) -> Result<(), Error> {
        let last = self.elements.last_mut().ok_or_else(|| {
            Error::malformed(format!(
                "expected an element before the property \"{name}\""
            ))
        })?;
        last.properties.push(Property {
            name: name.to_owned(),
            shape,
        });
        Ok(())
    }

    /// Checks what is promised against what the file has room for.
    fn fits(&self, size: u64) -> Result<(), Error> {
        let mut left = size - self.bytes as u64 + u64::from(self.order == Order::Text);
        for e in &self.elements {
            let needs = e.least(self.order).saturating_mul(e.count);
            if needs > left {
                let says = format!(
                    "the header promises {} records of \"{}\", which need {needs} bytes or more; the file has {left} left",
                    e.count, e.name
                );
                return Err(Error::truncated(says).at_byte(size));
            }
            left -= needs;
        }
        Ok(())
    }
}

fn named(word: &str) -> Result<Type, Error> {
    Type::named(word).ok_or_else(|| {
        Error::malformed(format!(
            "expected a type such as \"float\" or \"uchar\", found {}",
            quoted(word.as_bytes())
        ))
    })
}

#[cfg(test)]
mod tests {
    use super::*;

    const GOOD: &str = "ply\nformat binary_big_endian 1.0\ncomment units: in\nelement vertex 2\nproperty float x\n\
        property list uchar int n\nelement edge 0\nend_header\n";

    #[test]
    fn reads_elements_types_and_unit() {
        let size = GOOD.len() as u64 + 10;
        let h = header(GOOD.as_bytes(), size).unwrap();
        assert_eq!(
            (h.order, h.unit, h.lines, h.bytes),
            (Order::Big, Some(LengthUnit::Inch), 8, GOOD.len())
        );
        assert_eq!(h.elements[0].count, 2);
        assert_eq!(h.elements[0].properties[0].shape, Shape::One(Type::F32));
        assert_eq!(
            h.elements[0].properties[1].shape,
            Shape::List {
                count: Type::U8,
                item: Type::I32
            }
        );
        for end in ["\r\n", "\r"] {
            let text = GOOD.replace('\n', end);
            let h = header(text.as_bytes(), text.len() as u64 + 10).unwrap();
            assert_eq!((h.bytes, h.elements.len()), (text.len(), 2));
        }
    }

    #[test]
    fn names_the_line_that_is_wrong() {
        for (from, to, line, words) in [
            ("float x", "flaot x", 5, "found \"flaot\""),
            ("vertex 2", "vertex two", 4, "found \"two\""),
            ("vertex 2", "vertex -2", 4, "found \"-2\""),
            ("element edge 0", "elephant", 7, "found \"elephant\""),
            ("format binary_big_endian 1.0\n", "", 7, "\"format"),
            ("uchar int", "float int", 6, "whole-number"),
            ("end_header", "", 10, "without \"end_header\""),
        ] {
            let text = GOOD.replace(from, to);
            let e = header(text.as_bytes(), text.len() as u64 + 10).unwrap_err();
            assert!(e.says().contains(words), "{e}");
            if words != "without \"end_header\"" {
                assert_eq!(e.line(), Some(line), "{e}");
            }
        }
    }

    #[test]
    fn promises_are_checked_against_the_size() {
        let text = GOOD.replace("vertex 2", "vertex 4000000000000");
        let e = header(text.as_bytes(), text.len() as u64 + 10).unwrap_err();
        assert!(e.is_truncated(), "{e}");
        let text = GOOD.replace("vertex 2", &format!("vertex {}", u64::MAX));
        assert!(
            header(text.as_bytes(), text.len() as u64 + 10)
                .unwrap_err()
                .is_truncated()
        );
    }
}
