//! Tees: which legs lie in line where three pipes meet, and a plain loss where more than three do.

use super::build::Builder;
use super::terminal;
use crate::network::{ElementId, Law, Part, PartGroup, PartLaw, PlaceId, Role, Tee};
use crate::survey;
use petgraph::Direction::{Incoming, Outgoing};
use petgraph::visit::EdgeRef;

/// ζ into and out of a branch where more than three pipes meet, on the velocity in the branch.
const CROWDED_DIVIDING: f64 = 1.3;
const CROWDED_COMBINING: f64 = 0.9;
const CROWDED_SOURCE: &str = "DIN 1988-3, reprinted in a public press-fitting manual";

/// One pipe at a place.
#[derive(Clone, Copy)]
struct Leg {
    element: ElementId,
    bore_m: Option<f64>,
    /// The written flow leaves the place by it.
    leaves: bool,
}

impl Builder<'_> {
    /// Every tee of the house.
    pub fn tees(&mut self) {
        let places: Vec<PlaceId> = self.network.place_ids().collect();
        for place in places {
            if self.no_tees.contains(&place) {
                continue;
            }
            let told = self.told(place);
            if told.as_ref().is_some_and(|t| t.none) {
                continue;
            }
            let legs = self.legs_at(place);
            if self.joined_by_what_stands_aside(place) && legs.len() > 2 {
                self.crowd(&legs);
                continue;
            }
            match legs.as_slice() {
                [a, b, c] => self.tee(place, [*a, *b, *c], told),
                legs if legs.len() > 3 => self.crowd(legs),
                _ => {}
            }
        }
    }

    /// What `[tee]` says about a place, on both of its sides or on the one that it names.
    fn told(&self, place: PlaceId) -> Option<survey::Tee> {
        let node = &self.network.graph[place];
        let user = node.user.as_deref()?;
        self.survey
            .tees
            .iter()
            .find(|t| {
                let (name, side) = terminal::split(&t.place.value);
                t.place.value == user || (name == user && side.is_some() && side == node.side)
            })
            .cloned()
    }

    /// Pipes that meet at a place, in the order of the file. Overflow valves stand aside: they are shut in normal
    /// running, and open they are not a tee of the walk.
    fn legs_at(&self, place: PlaceId) -> Vec<Leg> {
        let graph = &self.network.graph;
        let out = graph
            .edges_directed(place, Outgoing)
            .map(|e| (e.id(), true));
        let into = graph
            .edges_directed(place, Incoming)
            .map(|e| (e.id(), false));
        let mut legs: Vec<Leg> = out
            .chain(into)
            .filter(|(id, _)| !self.aside.contains(id) && !self.leads_to_bypass(place, *id))
            .map(|(element, leaves)| Leg {
                element,
                bore_m: self.bore_of(element),
                leaves,
            })
            .collect();
        legs.sort_by_key(|leg| leg.element);
        legs
    }

    /// Whether a way back that carries water only in another state, such as a cylinder's, ends here. A tee's law is that
    /// of three pipes whose flows add up; with a fourth at work it would suck water through pipes that stand still.
    fn joined_by_what_stands_aside(&self, place: PlaceId) -> bool {
        let graph = &self.network.graph;
        let mut into = graph.edges_directed(place, Incoming).map(|e| e.id());
        into.any(|id| self.aside.contains(&id))
    }

    fn leads_to_bypass(&self, place: PlaceId, id: ElementId) -> bool {
        let graph = &self.network.graph;
        if graph[id].role == Role::Bypass {
            return true;
        }
        // the valve may hang on a pipe of its own: one joint further
        let Some((from, far)) = graph.edge_endpoints(id) else {
            return false;
        };
        from == place
            && graph[far].user.is_none()
            && graph
                .edges_directed(far, Outgoing)
                .any(|e| e.weight().role == Role::Bypass)
    }

    fn bore_of(&self, element: ElementId) -> Option<f64> {
        let run = self.network.graph[element].run?;
        self.network.runs.get(run).map(|r| r.bore_m)
    }

    fn tee(&mut self, place: PlaceId, legs: [Leg; 3], told: Option<survey::Tee>) {
        let leaving = legs.iter().filter(|l| l.leaves).count();
        // all towards or all away: no water can pass, and the check of the circuits says so
        let common_at = match leaving {
            1 => legs.iter().position(|l| l.leaves),
            2 => legs.iter().position(|l| !l.leaves),
            _ => None,
        };
        let Some(common) = common_at.and_then(|i| legs.get(i)).copied() else {
            return;
        };
        let mut others = legs.iter().filter(|l| l.element != common.element).copied();
        let (Some(first), Some(second)) = (others.next(), others.next()) else {
            return;
        };
        let known = [common, first, second].into_iter().filter_map(|l| l.bore_m);
        let widest = known.fold(0.0, f64::max);
        if widest <= 0.0 {
            return;
        }
        let bore = |leg: Leg| leg.bore_m.unwrap_or(widest);
        let named = told
            .as_ref()
            .and_then(|t| t.straight.as_ref())
            .map(|at| at.value.as_str());
        let by_name = |leg: Leg| named.is_some_and(|name| self.leg_is(leg.element, name));
        let forced = self.straight_at.get(&place).copied();
        let second_goes_straight = match (forced, named) {
            (Some(forced), _) => second.element == forced,
            (None, Some(_)) if by_name(first) || by_name(second) => by_name(second),
            _ => bore(second) > bore(first),
        };
        let (straight, branch) = if second_goes_straight {
            (second, first)
        } else {
            (first, second)
        };
        let bull_head = told.is_some_and(|t| t.bull_head);
        self.network.tees.push(if bull_head {
            Tee {
                place,
                straight: (first.element, second.element),
                branch: common.element,
                bores_m: (bore(first), bore(second), bore(common)),
                bull_head,
            }
        } else {
            Tee {
                place,
                straight: (common.element, straight.element),
                branch: branch.element,
                bores_m: (bore(common), bore(straight), bore(branch)),
                bull_head,
            }
        });
    }

    /// Whether an element is part of the line or emitter of this name.
    fn leg_is(&self, element: ElementId, name: &str) -> bool {
        let run = self.network.graph[element]
            .run
            .and_then(|run| self.network.runs.get(run));
        run.is_some_and(|r| r.name == name)
            || self
                .network
                .emitters
                .iter()
                .any(|e| e.name == name && e.branch.contains(&element))
    }

    /// More than three pipes at one place are several tees of which the file does not say the order. Every pipe but the
    /// common one and the widest of the others gets a branch's loss on its own velocity.
    fn crowd(&mut self, legs: &[Leg]) {
        let leaving = legs.iter().filter(|l| l.leaves).count();
        let dividing = leaving + 1 == legs.len();
        if !dividing && leaving != 1 {
            return;
        }
        let others: Vec<Leg> = legs
            .iter()
            .filter(|l| l.leaves == dividing)
            .copied()
            .collect();
        let mut widest: Option<Leg> = None;
        for leg in &others {
            if widest.is_none_or(|w| leg.bore_m.unwrap_or(0.0) > w.bore_m.unwrap_or(0.0)) {
                widest = Some(*leg);
            }
        }
        self.assume(
            "places where more than three pipes meet",
            "ζ 1.3 into and 0.9 out of each branch but the widest, on the branch's velocity",
            CROWDED_SOURCE,
        );
        for leg in others {
            let (Some(bore_m), false) =
                (leg.bore_m, widest.is_some_and(|w| w.element == leg.element))
            else {
                continue;
            };
            let part = Part {
                group: PartGroup::Fittings,
                words: "tee branch".to_owned(),
                symbol: "tee branch".to_owned(),
                count: 1,
                law: PartLaw::Zeta {
                    zeta: if dividing {
                        CROWDED_DIVIDING
                    } else {
                        CROWDED_COMBINING
                    },
                    bore_m,
                },
                source: CROWDED_SOURCE.to_owned(),
                span: None,
            };
            if let Law::Parts(parts) = &mut self.network.graph[leg.element].law {
                match dividing {
                    true => parts.insert(0, part),
                    false => parts.push(part),
                }
            }
        }
    }
}
