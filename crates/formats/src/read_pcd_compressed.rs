//! Unpacks what was packed by LZF (M. Lehmann's format: runs of literal bytes, and copies of what came before).

/// The `plain` bytes that `packed` stands for; the error is the place in `packed` that makes no sense.
pub(crate) fn unpacked(packed: &[u8], plain: usize) -> Result<Vec<u8>, usize> {
    // Points pack to half at best. What is promised beyond that grows as it comes: the promise may be a lie.
    let mut out = Vec::with_capacity(plain.min(packed.len().saturating_mul(3)));
    let mut at = 0;
    while at < packed.len() {
        let control = usize::from(packed[at]);
        let here = at;
        at += 1;
        if control < 32 {
            let run = packed.get(at..at + control + 1).ok_or(here)?;
            out.extend_from_slice(run);
            at += control + 1;
        } else {
            let mut length = control >> 5;
            if length == 7 {
                length += usize::from(*packed.get(at).ok_or(here)?);
                at += 1;
            }
            let low = usize::from(*packed.get(at).ok_or(here)?);
            at += 1;
            let back = ((control & 31) << 8) + low + 1;
            let from = out.len().checked_sub(back).ok_or(here)?;
            // The copy may reach into what it writes itself.
            for k in 0..length + 2 {
                let byte = out[from + k];
                out.push(byte);
            }
        }
        if out.len() > plain {
            return Err(here);
        }
    }
    if out.len() == plain {
        Ok(out)
    } else {
        Err(packed.len())
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn literals_and_copies() {
        // Three literals, then five bytes from three back: the copy overlaps what it writes.
        assert_eq!(
            unpacked(&[2, b'a', b'b', b'c', (3 << 5), 2], 8),
            Ok(b"abcabcab".to_vec())
        );
        // A long copy has its length in a further byte: 7 + 3 + 2 bytes from one back.
        assert_eq!(unpacked(&[0, b'x', 7 << 5, 3, 0], 13), Ok(vec![b'x'; 13]));
    }

    #[test]
    fn damage_is_told_with_its_place() {
        assert_eq!(unpacked(&[5, b'a'], 6), Err(0));
        assert_eq!(unpacked(&[0, b'a', 1 << 5, 9], 4), Err(2));
        assert_eq!(unpacked(&[0, b'a', 7 << 5], 4), Err(2));
        assert_eq!(unpacked(&[0, b'a'], 2), Err(2));
        assert_eq!(unpacked(&[1, b'a', b'b'], 1), Err(0));
    }
}
