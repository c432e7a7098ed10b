//! What is set by hand and read in the house: lockshields and preset valves with their tables, readings.

use super::{ElementId, Law, Network, PartLaw};
use crate::diag::Span;

/// What sets an emitter's flow: its preset valve, its lockshield, or its port of the manifold.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Setter {
    /// Element that it is part of.
    pub element: ElementId,
    /// Part of the element's law whose kv is set.
    pub part: usize,
    /// What it is.
    pub kind: SetterKind,
    /// Kv fully open, m³/h.
    pub open_kv_m3h: f64,
    /// Kv at which the file says that it stands, m³/h.
    pub stands_kv_m3h: Option<f64>,
    /// Index into `valve_tables`.
    pub table: Option<usize>,
}

/// Kinds of [`Setter`].
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum SetterKind {
    /// Lockshield.
    Lockshield,
    /// The valve that shuts the emitter, with a presetting of its own.
    Valve,
    /// A port of a manifold.
    Port,
    /// A balancing valve on a run that feeds several emitters.
    Branch,
}

/// A valve's own table of settings, rising.
#[derive(Clone, Debug, PartialEq)]
pub struct ValveTable {
    /// Its name in the file.
    pub name: String,
    /// Whether it is set to numbers on a ring, rather than by turns.
    pub presets: bool,
    /// Turns (or preset number) and kv in m³/h; both rise.
    pub points: Vec<(f64, f64)>,
    /// Where the figures are from, in the file's words.
    pub source: String,
}

/// What was read at an emitter or a source with everything as it stood.
#[derive(Clone, Debug, PartialEq)]
pub struct Reading {
    /// Index into `emitters` or, if `source`, into `sources`.
    pub at: usize,
    /// Taken at a source.
    pub source: bool,
    /// Where the water goes in (of a source: its flow), °C.
    pub flow_c: Option<f64>,
    /// Where it comes out (of a source: its return), °C.
    pub return_c: Option<f64>,
    /// Difference of the two, K, if only that was read.
    pub drop_k: Option<f64>,
    /// Flow at a meter, m³/s.
    pub rate_m3_s: Option<f64>,
    /// Room temperature, °C, if not the design's.
    pub room_c: Option<f64>,
    /// Kv at which the valve stood, m³/h.
    pub stood_kv_m3h: Option<f64>,
    /// Turns or preset number at which it stood.
    pub stood: Option<f64>,
    /// Its line in the file.
    pub span: Option<Span>,
}

impl Law {
    /// Kv of one part, m³/h, if that is what it goes by.
    pub fn part_kv(&self, part: usize) -> Option<f64> {
        let Law::Parts(parts) = self else {
            return None;
        };
        match parts.get(part)?.law {
            PartLaw::Kv { kv_m3h } => Some(kv_m3h),
            PartLaw::Friction { .. } | PartLaw::Zeta { .. } | PartLaw::Power { .. } => None,
        }
    }

    /// The same law with another kv, m³/h, in one of its parts.
    pub fn with_part_kv(&self, part: usize, kv: f64) -> Law {
        let mut law = self.clone();
        if let Law::Parts(parts) = &mut law
            && let Some(PartLaw::Kv { kv_m3h }) = parts.get_mut(part).map(|p| &mut p.law)
        {
            *kv_m3h = kv;
        }
        law
    }
}

impl Network {
    /// What sets an emitter's flow: its valve if that is preset by a table, else its port of the manifold where no
    /// lockshield is written, else its lockshield; `None` where there is nothing that could be set.
    pub fn setter(&self, emitter: usize) -> Option<Setter> {
        let e = self.emitters.get(emitter)?;
        let found = |element: ElementId, part: usize, kind: SetterKind, table| {
            let open_kv_m3h = self.element(element).law.part_kv(part)?;
            Some(Setter {
                element,
                part,
                kind,
                open_kv_m3h,
                stands_kv_m3h: None,
                table,
            })
        };
        if let (Some(valve), Some(_)) = (e.valve, e.valve_table) {
            return found(valve, 0, SetterKind::Valve, e.valve_table);
        }
        if let Some((element, part)) = e.port {
            return found(element, part, SetterKind::Port, e.lockshield_table);
        }
        if let Some(lockshield) = e.lockshield {
            let mut setter = found(lockshield, 0, SetterKind::Lockshield, e.lockshield_table)?;
            if e.lockshield_is_set {
                setter.stands_kv_m3h = Some(setter.open_kv_m3h);
                setter.open_kv_m3h = e.lockshield_open_kv.unwrap_or(setter.open_kv_m3h);
            }
            return Some(setter);
        }
        None
    }
}

impl ValveTable {
    /// Kv at a setting, m³/h, straight between the points; beyond them that of the nearest.
    pub fn kv(&self, mark: f64) -> f64 {
        self.between(mark, |p| p)
    }

    /// Setting at a kv in m³/h, straight between the points; beyond them that of the nearest.
    pub fn mark(&self, kv_m3h: f64) -> f64 {
        self.between(kv_m3h, |(mark, kv)| (kv, mark))
    }

    fn between(&self, x: f64, order: impl Fn((f64, f64)) -> (f64, f64)) -> f64 {
        let points = || self.points.iter().copied().map(&order);
        let (below, above) = (points().rfind(|p| p.0 <= x), points().find(|p| p.0 >= x));
        match (below, above) {
            (Some(a), Some(b)) if b.0 > a.0 => a.1 + (b.1 - a.1) * (x - a.0) / (b.0 - a.0),
            (Some(p), _) | (None, Some(p)) => p.1,
            (None, None) => f64::NAN,
        }
    }

    /// Least and greatest kv of the table, m³/h.
    pub fn range(&self) -> Option<(f64, f64)> {
        Some((self.points.first()?.1, self.points.last()?.1))
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn a_table_is_read_both_ways() {
        let table = ValveTable {
            name: "lockshield".into(),
            presets: false,
            points: vec![(0.5, 0.1), (1.0, 0.3), (2.0, 0.9)],
            source: String::new(),
        };
        for (mark, kv) in [(0.5, 0.1), (0.75, 0.2), (1.0, 0.3), (1.5, 0.6), (2.0, 0.9)] {
            assert!((table.kv(mark) - kv).abs() < 1e-12, "{mark}");
            assert!((table.mark(kv) - mark).abs() < 1e-12, "{kv}");
        }
        assert_eq!((table.kv(0.1), table.kv(9.0)), (0.1, 0.9));
        assert_eq!((table.mark(0.01), table.mark(9.0)), (0.5, 2.0));
    }
}

/// How a part of the house is known, where the file says more than that it is so.
#[derive(Clone, Copy, Debug, PartialEq, Eq, PartialOrd, Ord)]
pub enum Known {
    /// Somebody looked at it.
    Seen,
    /// Somebody measured it.
    Measured,
}

impl super::Network {
    /// How what has a name is known; `None` where the file states it and says no more.
    pub fn known(&self, name: &str) -> Option<Known> {
        let of = self.evidence.iter().filter(|(n, _)| n == name);
        of.map(|(_, known)| *known).max()
    }
}
