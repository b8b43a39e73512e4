//! Where the scenarios of the gallery begin.

use super::shop::Shop;
use anyhow::Result;

/// What is there before the commands of a scenario.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub(crate) enum Start {
    /// An empty folder.
    Nothing,
    /// A new book, and people.
    Book,
    /// A lot in the crib as well, released.
    Crib,
    /// A slip as well.
    Window,
}

impl Start {
    pub(crate) const ALL: [Start; 4] = [Start::Nothing, Start::Book, Start::Crib, Start::Window];

    /// The heading on the page.
    pub(crate) fn word(self) -> &'static str {
        match self {
            Start::Nothing => "nothing",
            Start::Book => "a book",
            Start::Crib => "a crib",
            Start::Window => "a slip",
        }
    }

    pub(crate) fn about(self) -> &'static str {
        match self {
            Start::Nothing => "An empty folder.",
            Start::Book => "A new book with an inspector, an attendant and two welders.",
            Start::Crib => "That, and a released lot in the crib, and a joint.",
            Start::Window => "That, and 24 rods of it out with W-12 on slip S-00001.",
        }
    }

    /// What is there before this one's own commands.
    fn after(self) -> Option<Start> {
        match self {
            Start::Nothing => None,
            Start::Book => Some(Start::Nothing),
            Start::Crib => Some(Start::Book),
            Start::Window => Some(Start::Crib),
        }
    }

    /// The commands that make it of the one before.
    pub(crate) fn commands(self) -> &'static [&'static str] {
        match self {
            Start::Nothing => &[],
            Start::Book => &[
                "init --station 'crib 1' --zone Pacific/Auckland --by I-21",
                "enroll A-01 --name 'Ebba Stonefeather' --role attendant --by I-21",
                "enroll W-12 --name 'Marit Oldervane' --role welder --by I-21",
                "enroll W-14 --name 'Teo Brandrake' --role welder --by I-21",
            ],
            Start::Crib => &[
                "receive --lot R-1028 --maker 'Tarvemire Wire' --maker-lot 4117-B --heat 7K2214 --spec A5.18 --class ER70S-2 --size '3/32 in x 36 in' --form cut-length --quantity '100 rods' --cert TW-26-0388 --cert-type 3.1 --at '2026-03-09 09:20' --by A-01",
                "release R-1028 --at '2026-03-10 11:00' --by I-21",
                "joint M-101 --level lot --by A-01",
            ],
            Start::Window => &["issue R-1028 W-12 24 rods --at '2026-04-07 06:10' --by A-01"],
        }
    }
}

/// One shop for each start, to copy from.
#[derive(Debug)]
pub(crate) struct Starts(Vec<(Start, Shop)>);

impl Starts {
    pub(crate) fn make() -> Result<Self> {
        let mut made: Vec<(Start, Shop)> = Vec::new();
        for start in Start::ALL {
            let before = start.after().and_then(|after| made.iter().find(|(s, _)| *s == after));
            let shop = before.map_or_else(Shop::empty, |(_, shop)| shop.copy())?;
            for command in start.commands() {
                shop.ok(command)?;
            }
            made.push((start, shop));
        }
        Ok(Self(made))
    }

    /// A fresh shop that is so.
    pub(crate) fn shop(&self, start: Start) -> Result<Shop> {
        self.0.iter().find(|(s, _)| *s == start).map_or_else(Shop::empty, |(_, shop)| shop.copy())
    }
}
