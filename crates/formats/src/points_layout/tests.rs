use super::*;
use Column::{Blue, Green, Name, NormalX, NormalY, NormalZ, Pass, Red, X, Y, Z};

fn check(text: &str, split: Split, comma: bool, columns: &[Column]) -> Layout {
    let found = layout(text.as_bytes(), b'\n').unwrap_or_else(|e| panic!("{text:?}: {e}"));
    assert_eq!(
        (found.split, found.comma, &found.columns[..]),
        (split, comma, columns),
        "{text:?}"
    );
    found
}

const SPACES: Split = Split::Spaces;
const COMMAS: Split = Split::Marks(b',');
const SEMICOLONS: Split = Split::Marks(b';');
const TABS: Split = Split::Marks(b'\t');
const XYZ: [Column; 3] = [X, Y, Z];

#[test]
fn marks_between_columns_and_in_numbers() {
    check("1 2 3\n4 5 6\n", SPACES, false, &XYZ);
    check("  1.5   2.5 3.5\n", SPACES, false, &XYZ);
    check("1,5 2,5 3,5\n", SPACES, true, &XYZ);
    check("1.5,2.5,3.5\n", COMMAS, false, &XYZ);
    check("1, 2, 3\n", COMMAS, false, &XYZ);
    check("1,2,3\n", COMMAS, false, &XYZ);
    check("1,5;2,5;3,5\n", SEMICOLONS, true, &XYZ);
    check("1.5;2.5;3.5\n", SEMICOLONS, false, &XYZ);
    check("1,5\t2,5\t3\n", TABS, true, &XYZ);
}

#[test]
fn a_comma_that_is_both_is_refused() {
    let e = layout(b"1,25,3,50,7,75\n2,25,4,50,8,75\n", b'\n').unwrap_err();
    assert!(e.says().contains("both the decimal mark"), "{e}");
    assert!(e.hint().contains("semicolons"));
}

#[test]
fn columns_by_their_values() {
    check("P1 1 2 3\nP2 4 5 6\n", SPACES, false, &[Name, X, Y, Z]);
    check(
        "1 10.5 2 3\n2 11.5 5 6\n3 0.5 5 6\n",
        SPACES,
        false,
        &[Name, X, Y, Z],
    );
    check("1 10.5 2 3\n3 11.5 5 6\n4 0.5 5 6\n", SPACES, false, &XYZ);
    check(
        "1.5 2 3 255 0 10\n",
        SPACES,
        false,
        &[X, Y, Z, Red, Green, Blue],
    );
    check(
        "1.5 2 3 0 0.6 0.8\n",
        SPACES,
        false,
        &[X, Y, Z, NormalX, NormalY, NormalZ],
    );
    check(
        "1.5 2 3 -812 255 0 10\n",
        SPACES,
        false,
        &[X, Y, Z, Pass, Red, Green, Blue],
    );
    check(
        "1.5 2 3 12 255 0 10\n",
        SPACES,
        false,
        &[X, Y, Z, Pass, Red, Green, Blue],
    );
    let both = [X, Y, Z, NormalX, NormalY, NormalZ, Red, Green, Blue];
    check("1.5 2 3 0 0.6 0.8 255 0 10\n", SPACES, false, &both);
    check("1.5 2 3 17.25\n", SPACES, false, &XYZ);
}

#[test]
fn columns_by_their_heads() {
    let found = check(
        "Name;X [mm];Y [mm];Z [mm]\nA;1,5;2;3\n",
        SEMICOLONS,
        true,
        &[Name, X, Y, Z],
    );
    assert_eq!(
        (found.unit, found.head_lines),
        (Some(LengthUnit::Millimetre), 1)
    );
    let found = check("z_in,y_in,x_in\n1.5,2,3\n", COMMAS, false, &[Z, Y, X]);
    assert_eq!(found.unit, Some(LengthUnit::Inch));
    check(
        "# x y z nx ny nz\n1 2 3 4 5 6\n",
        SPACES,
        false,
        &[X, Y, Z, NormalX, NormalY, NormalZ],
    );
    check(
        "quality,x,y,z\n0.5,1,2,3\n0.75,1,2,3\n",
        COMMAS,
        false,
        &[Pass, X, Y, Z],
    );
    check("x,y,z,r\n1.5,2,3,4\n", COMMAS, false, &XYZ);
}

#[test]
fn lines_before_the_first_point() {
    let found = check(
        "# unit: m\n\nScan of a door\n3\n1 2 3\n4 5 6\n7 8 9\n",
        SPACES,
        false,
        &XYZ,
    );
    assert_eq!((found.unit, found.head_lines), (Some(LengthUnit::Metre), 4));
    assert_eq!(
        found.notes,
        ["2 lines before the first point were passed over"]
    );
}

#[test]
fn what_is_no_table_is_told() {
    for text in [
        "hello\nworld\n",
        "1 2\n3 4\n",
        "\n\n\n",
        &"words\n".repeat(1000),
    ] {
        let e = layout(text.as_bytes(), b'\n').unwrap_err();
        assert!(
            e.hint().contains("STL, PLY or XYZ") && e.line().is_some(),
            "{e}"
        );
    }
}

#[test]
fn quoted_columns_may_hold_the_mark() {
    let fields: Vec<&[u8]> = COMMAS.fields(b"\"P, 1\" , 2,,3").collect();
    assert_eq!(fields, [&b"P, 1"[..], b"2", b"", b"3"]);
    let fields: Vec<&[u8]> = SPACES.fields(b" \"P 1\"  2 3 ").collect();
    assert_eq!(fields, [&b"P 1"[..], b"2", b"3"]);
    let fields: Vec<&[u8]> = SEMICOLONS.fields(b"1;2;").collect();
    assert_eq!(fields, [&b"1"[..], b"2", b""]);
}
