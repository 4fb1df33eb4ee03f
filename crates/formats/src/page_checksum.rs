//! Checksums of the pages of an E57 file: CRC-32C (Castagnoli), most significant byte first.
//!
//! Polynomial and start as in RFC 3720, appendix B.4. Processors since 2008 have an instruction for it, four bytes at a
//! time; its answer takes three cycles, so pages are summed four abreast. Without it, a table (D. V. Sarwate,
//! "Computation of cyclic redundancy checks via table look-up", CACM 31, 1988).

#![allow(
    clippy::inline_always,
    reason = "instruction sets are chosen at run time for what is inlined there"
)]

/// Bytes of a page.
pub(crate) const PAGE: usize = 1024;
/// Bytes of a page before its checksum.
pub(crate) const PAYLOAD: usize = PAGE - 4;
/// Pages summed side by side.
const ABREAST: usize = 4;

/// Whether every page agrees with its checksum.
pub(crate) fn pages_agree(pages: &[[u8; PAGE]]) -> bool {
    #[cfg(target_arch = "x86_64")]
    if let Some(v3) = pulp::x86::V3::try_new() {
        return v3.vectorize(WithInstruction { v3, pages });
    }
    let table = table();
    pages
        .iter()
        .all(|p| stated(p) == by_table(&table, &p[..PAYLOAD]))
}

fn stated(page: &[u8; PAGE]) -> u32 {
    u32::from_be_bytes([page[1020], page[1021], page[1022], page[1023]])
}

#[cfg(target_arch = "x86_64")]
struct WithInstruction<'a> {
    v3: pulp::x86::V3,
    pages: &'a [[u8; PAGE]],
}

#[cfg(target_arch = "x86_64")]
impl pulp::NullaryFnOnce for WithInstruction<'_> {
    type Output = bool;

    #[inline(always)]
    fn call(self) -> bool {
        let (lots, rest) = self.pages.as_chunks::<ABREAST>();
        let sums = |pages: &[&[u8; PAGE]; ABREAST]| {
            let words = pages.map(|p| p[..PAYLOAD].as_chunks::<4>().0);
            let mut sums = [u32::MAX; ABREAST];
            for k in 0..PAYLOAD / 4 {
                for (sum, words) in sums.iter_mut().zip(&words) {
                    *sum = self
                        .v3
                        .sse4_2
                        ._mm_crc32_u32(*sum, u32::from_le_bytes(words[k]));
                }
            }
            sums.map(|s| !s)
        };
        let agree = |pages: [&[u8; PAGE]; ABREAST]| {
            let sums = sums(&pages);
            pages.iter().zip(sums).all(|(p, s)| stated(p) == s)
        };
        lots.iter().all(|lot| agree(lot.each_ref())) && rest.iter().all(|p| agree([p; ABREAST]))
    }
}

fn table() -> [u32; 256] {
    let mut table = [0; 256];
    for (i, entry) in (0_u32..).zip(&mut table) {
        let mut sum = i;
        for _ in 0..8 {
            sum = if sum & 1 == 0 {
                sum >> 1
            } else {
                sum >> 1 ^ 0x82f6_3b78
            };
        }
        *entry = sum;
    }
    table
}

fn by_table(table: &[u32; 256], bytes: &[u8]) -> u32 {
    !bytes.iter().fold(u32::MAX, |sum, b| {
        table[(sum as u8 ^ b) as usize] ^ sum >> 8
    })
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn published_values() {
        // RFC 3720, appendix B.4: 32 bytes of zeros, of ones, counting up; and the usual check word.
        let up: Vec<u8> = (0..32).collect();
        for (bytes, sum) in [
            (&[0_u8; 32][..], 0x8a91_36aa),
            (&[0xff; 32], 0x62a8_ab43),
            (&up, 0x46dd_794e),
            (b"123456789", 0xe306_9283),
        ] {
            assert_eq!(by_table(&table(), bytes), sum);
        }
    }

    #[test]
    fn every_changed_byte_is_seen() {
        let table = table();
        let mut pages: Vec<[u8; PAGE]> = Vec::new();
        for k in 0..7_usize {
            let mut page = [0; PAGE];
            for (i, b) in page.iter_mut().enumerate() {
                *b = (i * i + k) as u8;
            }
            let sum = by_table(&table, &page[..PAYLOAD]);
            page[PAYLOAD..].copy_from_slice(&sum.to_be_bytes());
            pages.push(page);
        }
        for n in 0..=pages.len() {
            assert!(pages_agree(&pages[..n]));
        }
        for (page, byte) in [(0, 0), (3, 517), (4, 1019), (6, 1023), (5, 1020)] {
            let mut bad = pages.clone();
            bad[page][byte] ^= 0x10;
            assert!(!pages_agree(&bad), "{page} {byte}");
        }
    }
}
