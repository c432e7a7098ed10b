//! What the file admits beside the likeliest value, and the network as it is if another value is the true one.

use super::{ElementId, Heat, Law, Network, Part, PartLaw, Tee};
use crate::diag::Span;

/// What the file admits beside the likeliest value.
#[derive(Clone, Debug, PartialEq)]
pub struct Doubt {
    /// In the user's words: `hall: cu22?`; a shared doubt by its own name.
    pub name: String,
    /// How the likeliest value reads: `22 mm copper`.
    pub likeliest: String,
    /// The others.
    pub alternatives: Vec<Alternative>,
    /// Runs it is about.
    pub runs: Vec<usize>,
    /// Its words in the file.
    pub span: Option<Span>,
}

/// One value that a doubt admits.
#[derive(Clone, Debug, PartialEq)]
pub struct Alternative {
    /// How it reads: `15 mm copper`.
    pub words: String,
    /// Chance, if odds were given.
    pub odds: Option<f64>,
    /// New laws of the elements that it touches.
    pub edits: Vec<(ElementId, Law)>,
    /// What else changes with it.
    pub follow: Follow,
}

/// What follows from an alternative beside the laws: heat, water content, the look of runs, tees.
#[derive(Clone, Debug, Default, PartialEq)]
pub struct Follow {
    /// Heat and water (m³) of elements.
    pub elements: Vec<(ElementId, Heat, f64)>,
    /// Pipe of runs, by index into `runs`.
    pub runs: Vec<(usize, RunPipe)>,
    /// Tees, by index into `tees`.
    pub tees: Vec<(usize, Tee)>,
}

/// The pipe of a run as a person sees it.
#[derive(Clone, Debug, PartialEq)]
pub struct RunPipe {
    /// As [`super::Run::pipe`].
    pub pipe: String,
    /// As [`super::Run::size`].
    pub size: String,
    /// As [`super::Run::outside_m`].
    pub outside_m: Option<f64>,
    /// As [`super::Run::bore_m`].
    pub bore_m: f64,
    /// As [`super::Run::length_m`].
    pub length_m: f64,
    /// As [`super::Run::material`].
    pub material: String,
}

impl Network {
    /// The network as it is if one alternative of one doubt is the true one. Ids stay the same. Another doubt may be
    /// settled on the result in turn: its alternatives are brought up to date, so that `cu22? 5..7m` can be both
    /// narrower and longer than thought. An index that does not exist changes nothing.
    pub fn with(&self, doubt: usize, alternative: usize) -> Network {
        let mut network = self.clone();
        let Some(chosen) = self
            .doubts
            .get(doubt)
            .and_then(|d| d.alternatives.get(alternative))
        else {
            return network;
        };
        for (i, other) in network.doubts.iter_mut().enumerate() {
            if i != doubt {
                for theirs in &mut other.alternatives {
                    theirs.rebase(self, chosen);
                }
            }
        }
        for (id, law) in &chosen.edits {
            network.graph[*id].law = law.clone();
        }
        for (id, heat, volume_m3) in &chosen.follow.elements {
            network.graph[*id].heat = *heat;
            network.graph[*id].volume_m3 = *volume_m3;
        }
        for (run, pipe) in &chosen.follow.runs {
            network.runs[*run].set_pipe(pipe.clone());
        }
        for (tee, changed) in &chosen.follow.tees {
            network.tees[*tee] = changed.clone();
        }
        network
    }
}

impl super::Run {
    /// Its pipe as a person sees it.
    pub fn run_pipe(&self) -> RunPipe {
        RunPipe {
            pipe: self.pipe.clone(),
            size: self.size.clone(),
            outside_m: self.outside_m,
            bore_m: self.bore_m,
            length_m: self.length_m,
            material: self.material.clone(),
        }
    }

    fn set_pipe(&mut self, pipe: RunPipe) {
        self.pipe = pipe.pipe;
        self.size = pipe.size;
        self.outside_m = pipe.outside_m;
        self.bore_m = pipe.bore_m;
        self.length_m = pipe.length_m;
        self.material = pipe.material;
    }
}

impl Alternative {
    /// Keeps what this alternative changes against `base` and takes over the rest from `settled`, an alternative of
    /// another doubt that has become true.
    fn rebase(&mut self, base: &Network, settled: &Alternative) {
        for (id, theirs) in &mut self.edits {
            if let Some((_, mine)) = settled.edits.iter().find(|(other, _)| other == id) {
                *theirs = merge_law(&base.graph[*id].law, mine, theirs);
            }
        }
        for (id, heat, volume) in &mut self.follow.elements {
            if let Some((_, mine, mine_m3)) = settled
                .follow
                .elements
                .iter()
                .find(|(other, ..)| other == id)
            {
                let before = &base.graph[*id];
                *heat = merge_heat(before.heat, *mine, *heat);
                // bore and length both scale the content
                if before.volume_m3 > 0.0 {
                    *volume *= mine_m3 / before.volume_m3;
                }
            }
        }
        for (run, theirs) in &mut self.follow.runs {
            if let Some((_, mine)) = settled.follow.runs.iter().find(|(other, _)| other == run) {
                let before = base.runs[*run].run_pipe();
                *theirs = RunPipe {
                    pipe: pick(&before.pipe, &mine.pipe, &theirs.pipe),
                    size: pick(&before.size, &mine.size, &theirs.size),
                    outside_m: pick(&before.outside_m, &mine.outside_m, &theirs.outside_m),
                    bore_m: pick(&before.bore_m, &mine.bore_m, &theirs.bore_m),
                    length_m: pick(&before.length_m, &mine.length_m, &theirs.length_m),
                    material: pick(&before.material, &mine.material, &theirs.material),
                };
            }
        }
        for (tee, theirs) in &mut self.follow.tees {
            if let Some((_, mine)) = settled.follow.tees.iter().find(|(other, _)| other == tee) {
                *theirs = pick(&base.tees[*tee], mine, theirs);
            }
        }
    }
}

/// Theirs where it differs from the base, else mine.
fn pick<T: PartialEq + Clone>(base: &T, mine: &T, theirs: &T) -> T {
    if theirs == base {
        mine.clone()
    } else {
        theirs.clone()
    }
}

fn merge_law(base: &Law, mine: &Law, theirs: &Law) -> Law {
    match (base, mine, theirs) {
        (Law::Parts(b), Law::Parts(m), Law::Parts(t))
            if b.len() == m.len() && b.len() == t.len() =>
        {
            let merged = b.iter().zip(m).zip(t).map(|((b, m), t)| Part {
                group: t.group,
                words: pick(&b.words, &m.words, &t.words),
                symbol: t.symbol.clone(),
                count: t.count,
                law: merge_part(&b.law, &m.law, &t.law),
                source: pick(&b.source, &m.source, &t.source),
                span: t.span.clone(),
            });
            Law::Parts(merged.collect())
        }
        _ => pick(base, mine, theirs),
    }
}

fn merge_part(base: &PartLaw, mine: &PartLaw, theirs: &PartLaw) -> PartLaw {
    use PartLaw::{Friction, Zeta};
    match (base, mine, theirs) {
        (
            Friction {
                length_m: bl,
                bore_m: bd,
                roughness_m: br,
            },
            Friction {
                length_m: ml,
                bore_m: md,
                roughness_m: mr,
            },
            Friction {
                length_m: tl,
                bore_m: td,
                roughness_m: tr,
            },
        ) => Friction {
            length_m: pick(bl, ml, tl),
            bore_m: pick(bd, md, td),
            roughness_m: pick(br, mr, tr),
        },
        (
            Zeta {
                zeta: bz,
                bore_m: bd,
            },
            Zeta {
                zeta: mz,
                bore_m: md,
            },
            Zeta {
                zeta: tz,
                bore_m: td,
            },
        ) => Zeta {
            zeta: pick(bz, mz, tz),
            bore_m: pick(bd, md, td),
        },
        _ => pick(base, mine, theirs),
    }
}

fn merge_heat(base: Heat, mine: Heat, theirs: Heat) -> Heat {
    match (base, mine, theirs) {
        (
            Heat::Loss {
                u_w_mk: bu,
                length_m: bl,
                ..
            },
            Heat::Loss {
                u_w_mk: mu,
                length_m: ml,
                ..
            },
            Heat::Loss {
                u_w_mk: tu,
                length_m: tl,
                ambient_c,
            },
        ) => Heat::Loss {
            u_w_mk: pick(&bu, &mu, &tu),
            length_m: pick(&bl, &ml, &tl),
            ambient_c,
        },
        _ => pick(&base, &mine, &theirs),
    }
}
