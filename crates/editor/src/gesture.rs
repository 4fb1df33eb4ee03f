//! What a gesture is about: commands of one gesture share this key.

use std::mem::discriminant;

use crate::command::{Command, HandChange, OpeningChange, PartChange};

/// Everything about a command but the value it gives.
pub(crate) fn key(command: &Command) -> String {
    let kind = discriminant(command);
    match command {
        Command::Visit { visit, change } => format!("{kind:?} {visit} {:?}", discriminant(change)),
        Command::Scan { scan, change } => format!("{kind:?} {scan} {:?}", discriminant(change)),
        Command::Opening { opening, change } => {
            let inner = match change {
                OpeningChange::Face { face, change } => {
                    format!("face {face} {:?}", discriminant(change))
                }
                OpeningChange::Junction { junction, change } => {
                    format!("junction {junction} {:?}", discriminant(change))
                }
                OpeningChange::Hole { hole, change } => {
                    format!("hole {hole} {:?}", discriminant(change))
                }
                other => format!("{:?}", discriminant(other)),
            };
            format!("{kind:?} {opening} {inner}")
        }
        Command::Hand {
            table,
            change: HandChange::Reading { opening, of, .. },
        } => format!("{kind:?} {table} {opening} {of:?}"),
        Command::Hand { table, change } => format!("{kind:?} {table} {:?}", discriminant(change)),
        Command::Compare { compare, change } => {
            format!("{kind:?} {compare} {:?}", discriminant(change))
        }
        Command::Part { part, change } => {
            let inner = match change {
                PartChange::Fastener { hole, change } => {
                    format!("{hole} {:?}", discriminant(change))
                }
                other => format!("{:?}", discriminant(other)),
            };
            format!("{kind:?} {part} {inner}")
        }
        Command::ChangePlace { number, .. } => format!("{kind:?} {number}"),
        Command::Choose { compare, .. } => format!("{kind:?} {compare}"),
        Command::Several { name, .. } => format!("{kind:?} {name}"),
        other => format!("{:?}", discriminant(other)),
    }
}
