//! The points of an E57 scan, column by column.
//!
//! Points lie in packets of up to 64 KiB, each with a stream of bytes per column (ASTM E2807, section 9): whole numbers of
//! as many bits as their range needs, or floating-point ones. Here whole columns of a packet are unpacked at once; what
//! is not plain coordinates (states, colours, intensities, angles) is left to the general reader, and so is whatever does
//! not add up, for it says what is wrong.

use e57::{PointCloud, RecordDataType, RecordName};

use crate::Error;
use crate::page_checksum::{PAGE, PAYLOAD, pages_agree};
use crate::read_source::Source;

/// Pages checked and unwrapped at a time.
const PAGES: usize = 128;
/// Bytes of the header of a section.
const SECTION: usize = 32;

/// Columns of a scan that are coordinates.
pub(crate) struct Columns {
    /// Of each column: its coordinate, if it is one.
    axes: Vec<Option<usize>>,
    kinds: Vec<Kind>,
    points: u64,
    start: u64,
    pose: Option<([f64; 9], [f64; 3])>,
}

/// How a column is packed.
#[derive(Clone, Copy, Debug)]
enum Kind {
    Single,
    Double,
    Whole {
        bits: u32,
        least: i64,
        scale: f64,
        offset: f64,
    },
}

impl Kind {
    fn of(kind: &RecordDataType) -> Option<Self> {
        let whole = |min: i64, max: i64, scale: f64, offset: f64| {
            let range = u64::try_from(i128::from(max) - i128::from(min)).ok()?;
            let bits = range.checked_ilog2()? + 1;
            // A value and the bits before it in its first byte fit a word.
            (bits <= 56).then_some(Self::Whole {
                bits,
                least: min,
                scale,
                offset,
            })
        };
        match *kind {
            RecordDataType::Single { .. } => Some(Self::Single),
            RecordDataType::Double { .. } => Some(Self::Double),
            RecordDataType::ScaledInteger {
                min,
                max,
                scale,
                offset,
            } => whole(min, max, scale, offset),
            RecordDataType::Integer { min, max } => whole(min, max, 1.0, 0.0),
        }
    }
}

impl Columns {
    /// The columns of a scan that is plain coordinates; `None` if there is more to its points.
    pub fn of(cloud: &PointCloud) -> Option<Self> {
        let axis = |name: &RecordName| match name {
            RecordName::CartesianX => Some(Some(0)),
            RecordName::CartesianY => Some(Some(1)),
            RecordName::CartesianZ => Some(Some(2)),
            RecordName::RowIndex
            | RecordName::ColumnIndex
            | RecordName::ReturnCount
            | RecordName::ReturnIndex
            | RecordName::TimeStamp
            | RecordName::IsTimeStampInvalid => Some(None),
            _ => None,
        };
        let axes: Vec<Option<usize>> = cloud
            .prototype
            .iter()
            .map(|r| axis(&r.name))
            .collect::<Option<_>>()?;
        let each_once = (0..3).all(|k| axes.iter().filter(|a| **a == Some(k)).count() == 1);
        let kinds = cloud
            .prototype
            .iter()
            .map(|r| Kind::of(&r.data_type))
            .collect::<Option<_>>()?;
        let pose = cloud.transform.as_ref().map(|t| {
            let q = &t.rotation;
            let (w, x, y, z) = (q.w, q.x, q.y, q.z);
            let turn = [
                w * w + x * x - y * y - z * z,
                2.0 * (x * y + w * z),
                2.0 * (x * z - w * y),
                2.0 * (x * y - w * z),
                w * w + y * y - x * x - z * z,
                2.0 * (y * z + w * x),
                2.0 * (x * z + w * y),
                2.0 * (y * z - w * x),
                w * w + z * z - x * x - y * y,
            ];
            (turn, [t.translation.x, t.translation.y, t.translation.z])
        });
        each_once.then_some(Self {
            axes,
            kinds,
            points: cloud.records,
            start: cloud.file_offset,
            pose,
        })
    }

    /// Shows all points, with the pose applied, lot by lot. `false` where something does not add up: what was shown is then
    /// to be forgotten. Errors are those of the disk, and calling off.
    pub fn read(
        &self,
        source: &mut Source,
        mut show: impl FnMut(&[[f64; 3]]),
    ) -> Result<bool, Error> {
        let Some(mut bytes) = Bytes::from_place(source, self.start)? else {
            return Ok(false);
        };
        if bytes.at_least(SECTION)?.is_none() {
            return Ok(false);
        }
        let head = &bytes.held()[..SECTION];
        let mut raw = [0; 8];
        raw.copy_from_slice(&head[16..24]);
        let data = u64::from_le_bytes(raw);
        if head[0] != 1 || !bytes.is_next_after(SECTION, data) {
            return Ok(false);
        }
        bytes.consume(SECTION);
        let mut streams = vec![Stream::default(); self.kinds.len()];
        let mut left = self.points;
        let mut lot: Vec<[f64; 3]> = Vec::new();
        while left > 0 {
            let Some(length) = self.packet(&mut bytes, &mut streams)? else {
                return Ok(false);
            };
            bytes.consume(length);
            let ready = streams.iter().map(|s| s.values.len()).min().unwrap_or(0);
            let ready = ready.min(usize::try_from(left).unwrap_or(usize::MAX));
            lot.resize(ready, [0.0; 3]);
            for (stream, axis) in streams.iter_mut().zip(&self.axes) {
                if let Some(axis) = *axis {
                    for (point, value) in lot.iter_mut().zip(&stream.values) {
                        point[axis] = *value;
                    }
                }
                stream.values.drain(..ready);
            }
            if let Some((r, t)) = &self.pose {
                for p in &mut lot {
                    let [x, y, z] = *p;
                    *p = [0, 1, 2].map(|i| r[i] * x + r[i + 3] * y + r[i + 6] * z + t[i]);
                }
            }
            show(&lot);
            left -= ready as u64;
        }
        Ok(true)
    }

    /// Unpacks the next packet of points; the bytes of it. Packets of other kinds are passed over.
    fn packet(&self, bytes: &mut Bytes, streams: &mut [Stream]) -> Result<Option<usize>, Error> {
        loop {
            if bytes.at_least(4)?.is_none() {
                return Ok(None);
            }
            let head = bytes.held();
            let (kind, length) = (
                head[0],
                usize::from(u16::from_le_bytes([head[2], head[3]])) + 1,
            );
            if length % 4 != 0 || kind > 2 || bytes.at_least(length)?.is_none() {
                return Ok(None);
            }
            if kind == 1 {
                let packet = &bytes.held()[..length];
                return Ok(self.unpack(packet, streams).map(|()| length));
            }
            bytes.consume(length);
        }
    }

    fn unpack(&self, packet: &[u8], streams: &mut [Stream]) -> Option<()> {
        let short = |at: usize| {
            Some(usize::from(u16::from_le_bytes([
                *packet.get(at)?,
                *packet.get(at + 1)?,
            ])))
        };
        let count = self.kinds.len();
        if short(4)? != count {
            return None;
        }
        let mut at = 6 + 2 * count;
        for (k, (kind, stream)) in self.kinds.iter().zip(streams).enumerate() {
            let length = short(6 + 2 * k)?;
            stream.take(packet.get(at..at + length)?, *kind);
            at += length;
        }
        Some(())
    }
}

/// A column on its way: bytes that are not a whole value yet, and values that are not a whole point yet.
#[derive(Clone, Debug, Default)]
struct Stream {
    bytes: Vec<u8>,
    /// Bits of the first byte that are used up.
    used: usize,
    values: Vec<f64>,
}

impl Stream {
    fn take(&mut self, new: &[u8], kind: Kind) {
        if let (Kind::Double, [], (whole, [])) = (kind, &self.bytes[..], new.as_chunks::<8>()) {
            // Nothing is cut, as in most files.
            self.values
                .extend(whole.iter().map(|b| f64::from_le_bytes(*b)));
            return;
        }
        self.bytes.extend_from_slice(new);
        let done = match kind {
            Kind::Double => {
                let (whole, rest) = self.bytes.as_chunks::<8>();
                self.values
                    .extend(whole.iter().map(|b| f64::from_le_bytes(*b)));
                self.bytes.len() - rest.len()
            }
            Kind::Single => {
                let (whole, rest) = self.bytes.as_chunks::<4>();
                let value = |b: &[u8; 4]| f64::from(f32::from_le_bytes(*b));
                self.values.extend(whole.iter().map(value));
                self.bytes.len() - rest.len()
            }
            Kind::Whole {
                bits,
                least,
                scale,
                offset,
            } => {
                let size = bits as usize;
                let count = (8 * self.bytes.len() - self.used) / size;
                let end = self.bytes.len();
                // Room to read a word anywhere.
                self.bytes.extend_from_slice(&[0; 8]);
                let mask = (1_u64 << bits) - 1;
                let value = |i: usize| {
                    let bit = self.used + i * size;
                    let mut raw = [0; 8];
                    raw.copy_from_slice(&self.bytes[bit / 8..bit / 8 + 8]);
                    let whole = (u64::from_le_bytes(raw) >> (bit % 8) & mask).cast_signed();
                    least.wrapping_add(whole) as f64 * scale + offset
                };
                self.values.extend((0..count).map(value));
                self.bytes.truncate(end);
                let bit = self.used + count * size;
                self.used = bit % 8;
                bit / 8
            }
        };
        self.bytes.drain(..done);
    }
}

/// The bytes of the file without the checksums, from a place on.
struct Bytes<'s, 'a> {
    source: &'s mut Source<'a>,
    held: Vec<u8>,
    from: usize,
}

impl<'s, 'a> Bytes<'s, 'a> {
    /// From the place `physical` in the file; `None` if it was passed already.
    fn from_place(source: &'s mut Source<'a>, physical: u64) -> Result<Option<Self>, Error> {
        let page = physical / PAGE as u64 * PAGE as u64;
        if page < source.offset() || physical % PAGE as u64 >= PAYLOAD as u64 {
            return Ok(None);
        }
        while source.offset() < page {
            if source.window().is_empty() && !source.more()? {
                return Ok(None);
            }
            let ahead = usize::try_from(page - source.offset()).unwrap_or(usize::MAX);
            source.consume(ahead.min(source.window().len()));
        }
        let mut bytes = Self {
            source,
            held: Vec::new(),
            from: 0,
        };
        let within = (physical - page) as usize;
        Ok(bytes.at_least(within)?.map(|()| {
            bytes.consume(within);
            bytes
        }))
    }

    fn held(&self) -> &[u8] {
        &self.held[self.from..]
    }

    fn consume(&mut self, bytes: usize) {
        self.from += bytes;
    }

    /// Whether the byte `ahead` of the start of what is held is the one at the place `physical` of the file.
    fn is_next_after(&self, ahead: usize, physical: u64) -> bool {
        let pages = self.source.offset() / PAGE as u64;
        let here = pages * PAYLOAD as u64 - (self.held().len() - ahead) as u64;
        let (page, within) = (physical / PAGE as u64, physical % PAGE as u64);
        within < PAYLOAD as u64 && page * PAYLOAD as u64 + within == here
    }

    /// Unwraps pages until so many bytes are held; `None` if the file ends before or a checksum does not agree.
    fn at_least(&mut self, bytes: usize) -> Result<Option<()>, Error> {
        while self.held().len() < bytes {
            if !self.source.at_least(PAGE)? {
                return Ok(None);
            }
            let (pages, _) = self.source.window().as_chunks::<PAGE>();
            let pages = &pages[..pages.len().min(PAGES)];
            if !pages_agree(pages) {
                return Ok(None);
            }
            self.held.drain(..self.from);
            self.from = 0;
            for page in pages {
                self.held.extend_from_slice(&page[..PAYLOAD]);
            }
            let used = pages.len() * PAGE;
            self.source.consume(used);
        }
        Ok(Some(()))
    }
}
