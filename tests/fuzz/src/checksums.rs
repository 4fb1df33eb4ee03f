//! Checksums made right again, so that changed bytes behind them are read at all.

/// CRC-32C of every whole page of an E57 file, in its last four bytes.
pub fn mend_pages(bytes: &mut [u8]) {
    for page in bytes.chunks_exact_mut(1024) {
        let sum = page[..1020].iter().fold(u32::MAX, |sum, b| {
            (0..8).fold(sum ^ u32::from(*b), |s, _| {
                if s & 1 == 0 {
                    s >> 1
                } else {
                    s >> 1 ^ 0x82f6_3b78
                }
            })
        });
        page[1020..].copy_from_slice(&(!sum).to_be_bytes());
    }
}

/// The first eight bytes of the BLAKE3 of every entry of a journal, behind its length.
pub fn mend_journal(bytes: &mut [u8]) {
    let mut at = 8;
    while let Some(length) = bytes.get(at..at + 4) {
        let length = u32::from_le_bytes([length[0], length[1], length[2], length[3]]) as usize;
        let from = at + 12;
        let Some(body) = bytes.get(from..from.saturating_add(length)) else {
            return;
        };
        let sum = blake3::hash(body);
        bytes[at + 4..from].copy_from_slice(&sum.as_bytes()[..8]);
        at = from + length;
    }
}

/// The bytes with their BLAKE3 behind them.
pub fn with_sum(mut bytes: Vec<u8>) -> Vec<u8> {
    let sum = blake3::hash(&bytes);
    bytes.extend_from_slice(sum.as_bytes());
    bytes
}
