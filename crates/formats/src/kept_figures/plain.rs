//! Plain types as bytes and back, bit for bit. Numbers stand least byte first, lists after their length.
//!
//! The macros name every field of a type: one that is added there does not compile before it is named here.

use geom::{Point, Rigid, Unit, Vector};
use nalgebra::{DMatrix, Point2, Quaternion, SVector, Translation3, UnitQuaternion};

/// Something that is written to bytes and comes back the very same.
pub(super) trait Plain: Sized {
    /// Adds its bytes.
    fn put(&self, to: &mut Vec<u8>);

    /// Takes its bytes off the front; `None` where they are not those of one.
    fn take(from: &mut &[u8]) -> Option<Self>;
}

/// Structs by their fields.
macro_rules! plain_structs {
    ($($name:ident { $($field:ident),+ $(,)? })+) => {$(
        impl Plain for $name {
            fn put(&self, to: &mut Vec<u8>) {
                let Self { $($field),+ } = self;
                $($field.put(to);)+
            }

            fn take(from: &mut &[u8]) -> Option<Self> {
                Some(Self { $($field: Plain::take(from)?),+ })
            }
        }
    )+};
}

/// Enums without fields, by the names of their variants.
macro_rules! plain_enums {
    ($($name:ident { $($variant:ident),+ $(,)? })+) => {$(
        impl Plain for $name {
            fn put(&self, to: &mut Vec<u8>) {
                let name = match self { $(Self::$variant => stringify!($variant)),+ };
                name.to_owned().put(to);
            }

            fn take(from: &mut &[u8]) -> Option<Self> {
                match String::take(from)?.as_str() {
                    $(stringify!($variant) => Some(Self::$variant),)+
                    _ => None,
                }
            }
        }
    )+};
}

/// Names.
macro_rules! plain_names {
    ($($name:ident),+ $(,)?) => {$(
        impl Plain for $name {
            fn put(&self, to: &mut Vec<u8>) {
                self.0.put(to);
            }

            fn take(from: &mut &[u8]) -> Option<Self> {
                String::take(from).map(Self)
            }
        }
    )+};
}

pub(super) use {plain_enums, plain_names, plain_structs};

/// So many bytes off the front.
fn bytes<'a>(from: &mut &'a [u8], count: usize) -> Option<&'a [u8]> {
    let (front, rest) = from.split_at_checked(count)?;
    *from = rest;
    Some(front)
}

macro_rules! plain_numbers {
    ($($name:ty),+) => {$(
        impl Plain for $name {
            fn put(&self, to: &mut Vec<u8>) {
                to.extend_from_slice(&self.to_le_bytes());
            }

            fn take(from: &mut &[u8]) -> Option<Self> {
                let bytes = bytes(from, size_of::<Self>())?;
                Some(Self::from_le_bytes(bytes.try_into().ok()?))
            }
        }
    )+};
}

plain_numbers!(u8, u32, u64, f64);

impl Plain for usize {
    fn put(&self, to: &mut Vec<u8>) {
        (*self as u64).put(to);
    }

    fn take(from: &mut &[u8]) -> Option<Self> {
        Self::try_from(u64::take(from)?).ok()
    }
}

impl Plain for bool {
    fn put(&self, to: &mut Vec<u8>) {
        u8::from(*self).put(to);
    }

    fn take(from: &mut &[u8]) -> Option<Self> {
        match u8::take(from)? {
            0 => Some(false),
            1 => Some(true),
            _ => None,
        }
    }
}

impl Plain for String {
    fn put(&self, to: &mut Vec<u8>) {
        self.len().put(to);
        to.extend_from_slice(self.as_bytes());
    }

    fn take(from: &mut &[u8]) -> Option<Self> {
        let length = usize::take(from)?;
        Self::from_utf8(bytes(from, length)?.to_vec()).ok()
    }
}

impl<T: Plain> Plain for Option<T> {
    fn put(&self, to: &mut Vec<u8>) {
        self.is_some().put(to);
        if let Some(inside) = self {
            inside.put(to);
        }
    }

    fn take(from: &mut &[u8]) -> Option<Self> {
        if bool::take(from)? {
            T::take(from).map(Some)
        } else {
            Some(None)
        }
    }
}

impl<T: Plain> Plain for Vec<T> {
    fn put(&self, to: &mut Vec<u8>) {
        self.len().put(to);
        for x in self {
            x.put(to);
        }
    }

    fn take(from: &mut &[u8]) -> Option<Self> {
        let length = usize::take(from)?;
        // Nothing takes less than a byte: a length that lies ends here.
        if length > from.len() {
            return None;
        }
        (0..length).map(|_| T::take(from)).collect()
    }
}

impl<T: Plain, const N: usize> Plain for [T; N] {
    fn put(&self, to: &mut Vec<u8>) {
        for x in self {
            x.put(to);
        }
    }

    fn take(from: &mut &[u8]) -> Option<Self> {
        let all: Option<Vec<T>> = (0..N).map(|_| T::take(from)).collect();
        all?.try_into().ok()
    }
}

impl Plain for Point {
    fn put(&self, to: &mut Vec<u8>) {
        [self.x, self.y, self.z].put(to);
    }

    fn take(from: &mut &[u8]) -> Option<Self> {
        <[f64; 3]>::take(from).map(Self::from)
    }
}

impl Plain for Point2<f64> {
    fn put(&self, to: &mut Vec<u8>) {
        [self.x, self.y].put(to);
    }

    fn take(from: &mut &[u8]) -> Option<Self> {
        <[f64; 2]>::take(from).map(Self::from)
    }
}

impl<const N: usize> Plain for SVector<f64, N> {
    fn put(&self, to: &mut Vec<u8>) {
        for x in self.as_slice() {
            x.put(to);
        }
    }

    fn take(from: &mut &[u8]) -> Option<Self> {
        <[f64; N]>::take(from).map(Self::from)
    }
}

impl Plain for Unit {
    fn put(&self, to: &mut Vec<u8>) {
        [self.x, self.y, self.z].put(to);
    }

    fn take(from: &mut &[u8]) -> Option<Self> {
        // It was of length 1 when it was written; made so again it would change in its last digit.
        <[f64; 3]>::take(from).map(|v| Self::new_unchecked(Vector::from(v)))
    }
}

impl Plain for Rigid {
    fn put(&self, to: &mut Vec<u8>) {
        let (t, q) = (&self.translation.vector, self.rotation.coords);
        [t.x, t.y, t.z].put(to);
        [q.x, q.y, q.z, q.w].put(to);
    }

    fn take(from: &mut &[u8]) -> Option<Self> {
        let [x, y, z] = <[f64; 3]>::take(from)?;
        let [i, j, k, w] = <[f64; 4]>::take(from)?;
        let turn = UnitQuaternion::new_unchecked(Quaternion::new(w, i, j, k));
        Some(Self::from_parts(Translation3::new(x, y, z), turn))
    }
}

impl Plain for DMatrix<f64> {
    fn put(&self, to: &mut Vec<u8>) {
        self.nrows().put(to);
        self.ncols().put(to);
        for x in self.as_slice() {
            x.put(to);
        }
    }

    fn take(from: &mut &[u8]) -> Option<Self> {
        let (rows, columns) = (usize::take(from)?, usize::take(from)?);
        let count = rows.checked_mul(columns)?;
        let (numbers, _) = bytes(from, count.checked_mul(8)?)?.as_chunks::<8>();
        let numbers = numbers.iter().map(|b| f64::from_le_bytes(*b)).collect();
        Some(Self::from_vec(rows, columns, numbers))
    }
}
