//! Names of a schedule against names of the house.

use super::{Reader, Word};
use crate::audit::claim::{About, Of};
use crate::diag::{Diagnostic, nearest};
use crate::network::Network;
use crate::survey::read::wording::{list, short};

/// The name of what a claim is about; `None` for the house.
pub fn name(network: &Network, about: About) -> Option<String> {
    match about {
        About::House => None,
        About::Pair(i) => network.runs.get(i).map(|r| r.name.clone()),
        About::Pipe(i) => network.runs.get(i).map(|r| format!("{} {}", r.name, r.tag)),
        About::Emitter(i) => network.emitters.get(i).map(|e| e.name.clone()),
        About::Vessel(i) => network.vessels.get(i).map(|v| v.name.clone()),
        About::Circuit(i) => network.pumps.get(i).map(|p| p.name.clone()),
        About::Cylinder(i) => network.cylinders.get(i).map(|c| c.name.clone()),
    }
}

impl Reader<'_> {
    /// What a name under a heading means in the house.
    pub(super) fn about(&mut self, of: Of, word: &Word) -> Option<About> {
        let wanted = word.s.trim().to_lowercase();
        let is = |name: &str| name.to_lowercase() == wanted;
        let network = self.network;
        match of {
            Of::House => Some(About::House),
            Of::Emitter => match network.emitters.iter().position(|e| is(&e.name)) {
                Some(i) => Some(About::Emitter(i)),
                None => {
                    self.not_in_the_file("emitter", word, network.emitters.iter().map(|e| &*e.name))
                }
            },
            Of::Vessel => match network.vessels.iter().position(|v| is(&v.name)) {
                Some(i) => Some(About::Vessel(i)),
                None => {
                    self.not_in_the_file("vessel", word, network.vessels.iter().map(|v| &*v.name))
                }
            },
            Of::Cylinder => match network.cylinders.iter().position(|c| is(&c.name)) {
                Some(i) => Some(About::Cylinder(i)),
                None => {
                    let names = network.cylinders.iter().map(|c| &*c.name);
                    self.not_in_the_file("cylinder", word, names)
                }
            },
            Of::Circuit => self.circuit(word, &is),
            Of::Run => self.run(word, &is),
        }
    }

    /// The circuit of a pump by the pump's name, or by that of the manifold, vessel or exchanger that it belongs to.
    fn circuit(&mut self, word: &Word, is: &dyn Fn(&str) -> bool) -> Option<About> {
        let pumps = &self.network.pumps;
        let wanted = word.s.trim().to_lowercase();
        let begins = |name: &str| {
            let name = name.to_lowercase();
            name.strip_prefix(&wanted)
                .is_some_and(|rest| rest.starts_with(' '))
        };
        let found = pumps.iter().position(|p| is(&p.name)).or_else(|| {
            let mut of = pumps
                .iter()
                .enumerate()
                .filter(|(_, p)| p.source.is_none() && begins(&p.name));
            match (of.next(), of.next()) {
                (Some((i, _)), None) => Some(i),
                _ => None,
            }
        });
        match found {
            Some(i) => Some(About::Circuit(i)),
            None => self.not_in_the_file("pump", word, pumps.iter().map(|p| &*p.name)),
        }
    }

    fn run(&mut self, word: &Word, is: &dyn Fn(&str) -> bool) -> Option<About> {
        let network = self.network;
        if let Some(i) = network.runs.iter().position(|r| is(&r.tag)) {
            return Some(About::Pipe(i));
        }
        let named: Vec<usize> = (0..network.runs.len())
            .filter(|&i| network.runs.get(i).is_some_and(|r| is(&r.name)))
            .collect();
        match named[..] {
            [one] => Some(About::Pipe(one)),
            [a, b] if network.runs.get(a).and_then(|r| r.partner) == Some(b) => {
                Some(About::Pair(a))
            }
            [] => {
                let mut names: Vec<&str> = network.runs.iter().map(|r| &*r.name).collect();
                names.dedup();
                self.not_in_the_file("run", word, names.into_iter())
            }
            _ => {
                let runs = named.iter().filter_map(|&i| network.runs.get(i));
                let tags: Vec<&str> = runs.map(|r| &*r.tag).collect();
                self.say(
                    Diagnostic::error(
                        "claim-unclear",
                        word.inner(),
                        format!("`{}` is the name of {} pipes", short(&word.s), tags.len()),
                    )
                    .label("which of them?")
                    .help(format!(
                        "name one pipe by its tag: {}",
                        list(tags.iter().copied())
                    )),
                );
                None
            }
        }
    }

    /// Says that a name is not in the file; nothing can be claimed of it.
    pub(super) fn not_in_the_file<'n>(
        &mut self,
        kind: &str,
        word: &Word,
        names: impl Iterator<Item = &'n str> + Clone,
    ) -> Option<About> {
        let help = match nearest(&word.s, names.clone()) {
            Some(near) => format!("did you mean `{near}`?"),
            None if names.clone().next().is_none() => format!("the house has no {kind} at all"),
            None => format!("the house has: {}", list(names.take(12))),
        };
        self.say(
            Diagnostic::error(
                "claim-unknown",
                word.inner(),
                format!("the house has no {kind} `{}`", short(&word.s)),
            )
            .label("not in the network file")
            .help(help),
        );
        None
    }
}
