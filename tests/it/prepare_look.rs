//! A first look at scans of known noise.

use demo::{Coach, Scanner};
use record::{Code, LengthUnit, Quiet};

#[test]
fn noise_size_and_openings_are_seen() {
    let scanner = Scanner {
        sd_mm: 0.08,
        correlated_share: 0.6,
        range_mm: 4.0,
        ..Scanner::default()
    };
    for seed in 1..=3 {
        let scan = Coach::new(seed)
            .seen_by(scanner)
            .scans(400_000, &Quiet)
            .unwrap()
            .remove(0);
        let p = study::prepare(scan.raw, LengthUnit::Millimetre, &Quiet).unwrap();
        let look = study::look(&p, &Quiet).unwrap();
        assert_eq!(look.points, p.blocks.len());
        assert_eq!(look.openings.len(), 4);
        let holes: usize = look
            .openings
            .iter()
            .map(|o| o.hole_diameters_mm.len())
            .sum();
        assert!(holes >= 11, "{holes}");
        let noise = look.noise.unwrap();
        println!("{noise:?} {}", look.spacing_mm);
        assert!(noise.patches >= 8);
        assert!((noise.sd_mm / 0.08 - 1.0).abs() < 0.2, "{noise:?}");
        // Cells of 5 mm average nearly all of the white part away: the share is known from below only.
        assert!(noise.common_share > 0.3, "{noise:?}");
        assert!(noise.reach_mm > 3.0 && noise.reach_mm <= 26.0, "{noise:?}");
    }
}

#[test]
fn doubtful_size_and_coarseness_are_said() {
    let scan = Coach::new(1).scans(60_000, &Quiet).unwrap().remove(2);
    let codes = |unit| -> Vec<Code> {
        let p = study::prepare(scan.raw.clone(), unit, &Quiet).unwrap();
        let look = study::look(&p, &Quiet).unwrap();
        look.findings.iter().map(|f| f.code).collect()
    };
    assert_eq!(codes(LengthUnit::Millimetre), [Code::CoarseScan]);
    assert!(codes(LengthUnit::Metre).contains(&Code::UnitDoubt));
}
