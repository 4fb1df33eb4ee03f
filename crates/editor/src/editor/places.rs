//! Named places of the body, typed or pasted.

use record::{Place, ScanId};

use super::Editor;
use crate::command::Command;
use crate::refused::Refused;

/// A place as it is typed.
#[derive(Clone, Debug, Default, PartialEq, Eq)]
pub struct TypedPlace {
    /// What it is called, without its side.
    pub name: String,
    /// Its side: "left", "right", "centre".
    pub side: String,
    /// The scan; blank where the job has one.
    pub scan: String,
    /// Scan coordinates: "412.5", "412,5", "3/16 in".
    pub at: [String; 3],
    /// By how much a second pick would differ.
    pub sigma: String,
}

impl Editor {
    /// Takes a typed place, as a new one or in place of the one of a number (see [`Command::ChangePlace`]).
    ///
    /// # Errors
    /// If something in it cannot be read, or the job does not allow it.
    pub fn take_place(&mut self, typed: &TypedPlace, number: Option<usize>) -> Result<(), Refused> {
        let field = |head: &str| -> &str {
            let text = match head {
                "name" => &typed.name,
                "side" => &typed.side,
                "scan" => &typed.scan,
                "x" => &typed.at[0],
                "y" => &typed.at[1],
                "z" => &typed.at[2],
                "sigma" => &typed.sigma,
                _ => return "",
            };
            text.trim()
        };
        let place = formats::place_from_words(&field).map_err(|e| unread(&e))?;
        let place = self.in_a_scan(place)?;
        let command = match number {
            None => Command::AddPlaces(vec![place]),
            Some(number) => Command::ChangePlace {
                number,
                to: Box::new(place),
            },
        };
        self.apply(&command)
    }

    /// Takes a pasted table of places, all of it or nothing; how many there were.
    ///
    /// # Errors
    /// If it cannot be read, with the line, or the job does not allow it.
    pub fn paste_places(&mut self, table: &str) -> Result<usize, Refused> {
        let places = formats::places_from_str(table).map_err(|e| unread(&e))?;
        let places = places
            .into_iter()
            .map(|p| self.in_a_scan(p))
            .collect::<Result<Vec<_>, _>>()?;
        let count = places.len();
        self.apply(&Command::AddPlaces(places))?;
        Ok(count)
    }

    /// A place without a scan is in the only one there is.
    fn in_a_scan(&self, mut place: Place) -> Result<Place, Refused> {
        let scans: Vec<&ScanId> = self.document.job().scans.iter().map(|s| &s.id).collect();
        if place.scan.0.is_empty() {
            let [only] = scans.as_slice() else {
                return Err(Refused::NotRead {
                    says: format!("The scan that \"{}\" was picked in is not said", place.name),
                    hint: "Say the scan: all places of a centreline are in one.".to_owned(),
                });
            };
            place.scan = (*only).clone();
        }
        Ok(place)
    }
}

pub(super) fn unread(error: &formats::Error) -> Refused {
    let says = error.to_string();
    let mut letters = says.chars();
    let first = letters.next().map(|c| c.to_uppercase().to_string());
    Refused::NotRead {
        says: format!("{}{}", first.unwrap_or_default(), letters.as_str()),
        hint: error.hint().to_owned(),
    }
}
