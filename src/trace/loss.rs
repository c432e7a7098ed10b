//! Steps of the loss along an element: velocity, Reynolds number, friction factor, each part, tees.

use super::arithmetic::{Expr, Function, n, s};
use super::{Evidence, Input, Step, Trace, Unit, properties, property};
use crate::check::Kind;
use crate::fluid::Properties;
use crate::hydraulics::{self, friction, local};
use crate::network::{Element, ElementId, Law, Network, Part, PartLaw, THE_FILE};
use crate::view::Required;

const DARCY: &str = "Darcy-Weisbach";

/// Adds the steps of an element's loss and returns the terms of its sum, each with its symbol. `tag` tells the symbols of
/// several elements apart.
pub(super) fn element(
    trace: &mut Trace,
    network: &Network,
    view: &Required,
    id: ElementId,
    tag: &str,
) -> Vec<Expr> {
    element_at(trace, network, view, id, (tag, &format!("m{tag}")))
}

/// Where a part's figures are from: the file itself, a table that the file's word leads to, or a default of which the file
/// says nothing.
fn evidence(part: &Part) -> Evidence {
    match (part.source.as_str(), &part.span) {
        (THE_FILE, _) => Evidence::Stated,
        (_, Some(_)) => Evidence::Table,
        (_, None) => Evidence::Assumed,
    }
}

/// The same with a symbol of its own for the flow.
pub(super) fn element_at(
    trace: &mut Trace,
    network: &Network,
    view: &Required,
    id: ElementId,
    (tag, flow_symbol): (&str, &str),
) -> Vec<Expr> {
    let i = id.index();
    let flow = view.flow_kg_s.get(i).copied().unwrap_or(0.0);
    let celsius = view.temperature_c.get(i).copied().unwrap_or(f64::NAN);
    let element = network.element(id);
    let Some(at) = properties(network, id, celsius).filter(|_| flow != 0.0) else {
        return Vec::new();
    };
    for (symbol, what, value, unit) in [
        ("rho", "density", at.rho_kg_m3, "kg/m3"),
        ("mu", "viscosity", at.mu_pa_s, "Pa s"),
    ] {
        let symbol = format!("{symbol}{tag}");
        trace.input(property(network, id, celsius, (&symbol, what, value, unit)));
    }
    let water = Water {
        at,
        flow: flow.abs(),
        flow_symbol,
        tag,
    };
    let mut terms = match &element.law {
        Law::Parts(parts) => water.parts(trace, network, element, parts),
        Law::OneWay { opening_pa, kv_m3h } => {
            let kv = water.kv(trace, element, *kv_m3h);
            let symbol = format!("p_opening{tag}");
            trace.input(Input {
                symbol: symbol.clone(),
                what: format!("pressure at which {} opens", element.name),
                value: *opening_pa,
                unit: PA,
                evidence: Evidence::Stated,
                source: String::new(),
                span: element.span.clone(),
            });
            vec![s(symbol, *opening_pa), kv]
        }
        Law::HoldFlow { kv_m3h, .. } => vec![water.kv(trace, element, *kv_m3h)],
        Law::Pump(_) => Vec::new(),
    };
    let tees = view.tee_loss_pa.get(i).copied().unwrap_or(0.0);
    if tees != 0.0 {
        terms.push(super::tee::steps(trace, network, view, id, (tag, tees)));
    }
    terms
}

/// What flows through the element at hand.
struct Water<'a> {
    at: Properties,
    flow: f64,
    flow_symbol: &'a str,
    tag: &'a str,
}

impl Water<'_> {
    fn m(&self) -> Expr {
        s(self.flow_symbol, self.flow)
    }

    fn rho(&self) -> Expr {
        s(format!("rho{}", self.tag), self.at.rho_kg_m3)
    }

    /// `4*m/(pi*d^2*rho)`.
    fn velocity(&self, bore: Expr) -> Expr {
        n(4.0) * self.m() / (Expr::Pi * bore.squared() * self.rho())
    }

    fn volume_m3h(&self) -> Expr {
        n(3600.0) * self.m() / self.rho()
    }

    fn parts(
        &self,
        trace: &mut Trace,
        network: &Network,
        element: &Element,
        parts: &[Part],
    ) -> Vec<Expr> {
        let guessed = element
            .run
            .and_then(|r| network.runs.get(r))
            .is_some_and(|run| !run.doubts.is_empty());
        let mut terms = Vec::new();
        // bores met so far, each with its velocity; bores with a roughness, each with its gradient
        let mut bores: Vec<(f64, String)> = Vec::new();
        let mut gradients: Vec<((f64, f64), Expr)> = Vec::new();
        for (number, part) in parts.iter().enumerate() {
            let own = format!("{}{}", self.tag, number + 1);
            let loss = hydraulics::part(&part.law, self.at, self.flow).0;
            let input =
                |symbol: String, what: &str, value: f64, unit: Unit, evidence: Evidence| Input {
                    symbol,
                    what: format!("{what} of {}", part.words),
                    value,
                    unit,
                    evidence,
                    source: part.source.clone(),
                    span: part.span.clone(),
                };
            let or_guessed = |known| if guessed { Evidence::Guessed } else { known };
            let from = or_guessed(evidence(part));
            // the length of a pipe is the file's, that of a fitting's equivalent pipe a table's
            let length_from = match part.symbol.as_str() {
                "" if part.span.is_some() => or_guessed(Evidence::Stated),
                _ => from,
            };
            match part.law {
                PartLaw::Friction {
                    length_m,
                    bore_m,
                    roughness_m,
                } => {
                    let (d, v) = self.bore(trace, &mut bores, bore_m, |d| {
                        input(d, "bore", bore_m, Unit::Plain("m"), from)
                    });
                    let (length, rough) = (format!("L{own}"), format!("eps{own}"));
                    trace.input(input(
                        length.clone(),
                        "length",
                        length_m,
                        Unit::Length,
                        length_from,
                    ));
                    let known = gradients
                        .iter()
                        .find(|(of, _)| *of == (bore_m, roughness_m));
                    let gradient = match known {
                        Some((_, gradient)) => gradient.clone(),
                        None => {
                            trace.input(input(
                                rough.clone(),
                                "roughness",
                                roughness_m,
                                Unit::Plain("m"),
                                Evidence::Table,
                            ));
                            let rough = s(rough, roughness_m);
                            let new =
                                self.friction(trace, (&d, bore_m), &v, rough, roughness_m, &own);
                            gradients.push(((bore_m, roughness_m), new.clone()));
                            new
                        }
                    };
                    let formula = gradient * s(length, length_m);
                    trace.steps.push(
                        Step::new(
                            match part.symbol.as_str() {
                                "" => format!("friction in {}", part.words),
                                _ => format!("{} as equivalent length of pipe", part.words),
                            },
                            format!("dp{own}"),
                            formula,
                            loss,
                            PA,
                        )
                        .from(DARCY),
                    );
                }
                PartLaw::Zeta { zeta, bore_m } => {
                    let (_, v) = self.bore(trace, &mut bores, bore_m, |d| {
                        input(d, "bore", bore_m, Unit::Plain("m"), from)
                    });
                    let symbol = format!("zeta{own}");
                    trace.input(input(
                        symbol.clone(),
                        "loss coefficient",
                        zeta,
                        Unit::Plain(""),
                        evidence(part),
                    ));
                    let formula = s(symbol, zeta) * self.rho() * v.squared() / n(2.0);
                    trace.steps.push(
                        Step::new(part.words.clone(), format!("dp{own}"), formula, loss, PA)
                            .from("loss coefficient on the velocity in the bore"),
                    );
                }
                PartLaw::Kv { kv_m3h } => {
                    let symbol = format!("kv{own}");
                    trace.input(input(
                        symbol.clone(),
                        "flow factor",
                        kv_m3h,
                        Unit::Plain("m3/h"),
                        evidence(part),
                    ));
                    let formula = self.kv_formula(s(symbol, kv_m3h));
                    trace.steps.push(
                        Step::new(part.words.clone(), format!("dp{own}"), formula, loss, PA)
                            .from(KV),
                    );
                }
                PartLaw::Power {
                    dp_ref_pa,
                    q_ref_m3h,
                    exponent,
                } => {
                    let names = [
                        format!("dp_ref{own}"),
                        format!("q_ref{own}"),
                        format!("n{own}"),
                    ];
                    let [dp, q, e] = names.clone();
                    trace.input(input(
                        dp.clone(),
                        "loss at the flow stated",
                        dp_ref_pa,
                        PA,
                        evidence(part),
                    ));
                    trace.input(input(
                        q.clone(),
                        "flow stated",
                        q_ref_m3h,
                        Unit::Plain("m3/h"),
                        evidence(part),
                    ));
                    trace.input(input(
                        e.clone(),
                        "exponent",
                        exponent,
                        Unit::Plain(""),
                        evidence(part),
                    ));
                    let share = self.volume_m3h() / s(q, q_ref_m3h);
                    let formula = s(dp, dp_ref_pa) * share.pow(s(e, exponent));
                    trace.steps.push(
                        Step::new(part.words.clone(), format!("dp{own}"), formula, loss, PA)
                            .from("loss stated at a flow, with its exponent"),
                    );
                }
            }
            terms.push(s(format!("dp{own}"), loss));
        }
        terms
    }

    /// Symbol of a bore and of the velocity in it, each introduced where it is first met.
    fn bore(
        &self,
        trace: &mut Trace,
        bores: &mut Vec<(f64, String)>,
        bore_m: f64,
        input: impl FnOnce(String) -> Input,
    ) -> (Expr, Expr) {
        let velocity = self.flow / (self.at.rho_kg_m3 * friction::area_m2(bore_m));
        if let Some((_, tag)) = bores.iter().find(|(b, _)| *b == bore_m) {
            return (s(format!("d{tag}"), bore_m), s(format!("v{tag}"), velocity));
        }
        let number = bores.len();
        let tag = match number {
            0 => self.tag.to_owned(),
            more => format!("{}{}", self.tag, "'".repeat(more)),
        };
        trace.input(input(format!("d{tag}")));
        let d = s(format!("d{tag}"), bore_m);
        trace.steps.push(
            Step::new(
                "velocity",
                format!("v{tag}"),
                self.velocity(d.clone()),
                velocity,
                Unit::Kind(Kind::VelocityMs),
            )
            .from("flow over area"),
        );
        bores.push((bore_m, tag.clone()));
        (d, s(format!("v{tag}"), velocity))
    }

    /// Steps to the friction gradient of a bore; returns its symbol.
    fn friction(
        &self,
        trace: &mut Trace,
        (d, bore_m): (&Expr, f64),
        v: &Expr,
        rough: Expr,
        roughness_m: f64,
        own: &str,
    ) -> Expr {
        let re = friction::reynolds(self.flow, bore_m, self.at.mu_pa_s);
        let mu = s(format!("mu{}", self.tag), self.at.mu_pa_s);
        let formula = n(4.0) * self.m() / (Expr::Pi * d.clone() * mu);
        let re_is = s(format!("Re{own}"), re);
        trace.steps.push(
            Step::new(
                "Reynolds number",
                format!("Re{own}"),
                formula,
                re,
                Unit::Plain(""),
            )
            .from("Reynolds"),
        );
        let f = friction::factor(re, roughness_m / bore_m).0;
        let symbol = format!("f{own}");
        let step = if re <= friction::LAMINAR_TO {
            Step::new(
                "friction factor, laminar",
                symbol.clone(),
                n(64.0) / re_is,
                f,
                Unit::Plain(""),
            )
            .from("Hagen-Poiseuille, to Re 2300")
        } else if re >= friction::TURBULENT_FROM {
            colebrook(&symbol, &re_is, &(rough / d.clone()), f)
                .by("f stands on both sides: begin with 0.03 and put the result in again until it stays")
        } else {
            // the cubic between both laws, by values and slopes at its ends
            let (f2, m2) = friction::colebrook(friction::TURBULENT_FROM, roughness_m / bore_m);
            let (f4, m4) = (format!("f4000{own}"), format!("slope{own}"));
            let at_4000 = n(friction::TURBULENT_FROM);
            trace
                .steps
                .push(colebrook(&f4, &at_4000, &(rough / d.clone()), f2).by("at Re 4000"));
            trace.input(Input {
                symbol: m4.clone(),
                what: "slope of that factor at Re 4000".into(),
                value: m2,
                unit: Unit::Plain(""),
                evidence: Evidence::Table,
                source: "derivative of Colebrook-White".into(),
                span: None,
            });
            let h = friction::TURBULENT_FROM - friction::LAMINAR_TO;
            let x = s(format!("x{own}"), (re - friction::LAMINAR_TO) / h);
            let share = (re_is - n(friction::LAMINAR_TO)) / n(h);
            let along = (re - friction::LAMINAR_TO) / h;
            trace.steps.push(Step::new(
                "share of the way from Re 2300 to 4000",
                format!("x{own}"),
                share,
                along,
                Unit::Plain(""),
            ));
            let (x2, x3) = (x.clone().squared(), x.clone().pow(n(3.0)));
            let formula = (n(2.0) * x3.clone() - n(3.0) * x2.clone() + n(1.0))
                * (n(64.0) / n(2300.0))
                - (x3.clone() - n(2.0) * x2.clone() + x) * n(h) * n(64.0) / n(2300.0).squared()
                + (n(3.0) * x2.clone() - n(2.0) * x3.clone()) * s(f4, f2)
                + (x3 - x2) * n(h) * s(m4, m2);
            Step::new(
                "friction factor, between laminar and turbulent",
                symbol.clone(),
                formula,
                f,
                Unit::Plain(""),
            )
            .from("no law is agreed; the cubic that meets both in value and slope")
        };
        trace.steps.push(step);
        let metre = PartLaw::Friction {
            length_m: 1.0,
            bore_m,
            roughness_m,
        };
        let gradient = hydraulics::part(&metre, self.at, self.flow).0;
        let formula = s(symbol, f) / d.clone() * self.rho() * v.clone().squared() / n(2.0);
        trace.steps.push(
            Step::new(
                "friction gradient",
                format!("R{own}"),
                formula,
                gradient,
                Unit::Kind(Kind::GradientPaM),
            )
            .from(DARCY),
        );
        s(format!("R{own}"), gradient)
    }

    fn kv_formula(&self, kv: Expr) -> Expr {
        n(100_000.0) * (self.rho() / n(1000.0)) * (self.volume_m3h() / kv).squared()
    }

    fn kv(&self, trace: &mut Trace, element: &Element, kv_m3h: f64) -> Expr {
        let symbol = format!("kv{}", self.tag);
        trace.input(Input {
            symbol: symbol.clone(),
            what: format!("flow factor of {}", element.name),
            value: kv_m3h,
            unit: Unit::Plain("m3/h"),
            evidence: Evidence::Stated,
            source: String::new(),
            span: element.span.clone(),
        });
        let loss = local::kv(kv_m3h, self.at.rho_kg_m3, self.flow).0;
        let name = format!("dp{}", self.tag);
        let formula = self.kv_formula(s(symbol, kv_m3h));
        trace
            .steps
            .push(Step::new(element.name.clone(), name.clone(), formula, loss, PA).from(KV));
        s(name, loss)
    }
}

const PA: Unit = Unit::Kind(Kind::PressurePa);
const KV: &str = "definition of kv, IEC 60534";

/// 1/√f = −2·log₁₀(ε/d/3.7 + 2.51/(Re·√f)), as f = …
fn colebrook(symbol: &str, re: &Expr, relative: &Expr, f: f64) -> Step {
    let inside =
        relative.clone() / n(3.7) + n(2.51) / (re.clone() * s(symbol, f).of(Function::SquareRoot));
    let root = n(2.0) * inside.of(Function::Log10);
    Step::new(
        "friction factor, turbulent",
        symbol,
        n(1.0) / root.squared(),
        f,
        Unit::Plain(""),
    )
    .from("Colebrook 1939")
}
