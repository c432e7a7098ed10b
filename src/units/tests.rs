use super::*;
use crate::quantity::Head;
use crate::quantity::{Metre, Pressure, VolumeFlow, Watt};

fn problem(quantity: Quantity, text: &str) -> (Problem, String) {
    let error = read(quantity, text).expect_err(text);
    (error.problem, text[error.span].to_owned())
}

#[test]
fn what_is_wrong_and_where() {
    use Problem as P;
    let cases: &[(Quantity, &str, P, &str)] = &[
        (
            Quantity::Flow,
            "12 l/mim",
            P::UnitUnknown(Some("l/min")),
            "l/mim",
        ),
        (Quantity::Flow, "12 kPa", P::WrongKind("a pressure"), "kPa"),
        (Quantity::Flow, "12", P::UnitMissing, "12"),
        (
            Quantity::Flow,
            "0.2 kg/s",
            P::WrongKind("a mass flow"),
            "kg/s",
        ),
        (Quantity::Head, "3", P::UnitMissing, "3"),
        (Quantity::Pressure, "2 m", P::WrongKind("a length"), "m"),
        (Quantity::Power, "eight kW", P::NotANumber, "eight"),
        (Quantity::Power, "1,5 kW", P::Comma("1.5".into()), "1,5"),
        (Quantity::Power, "nan W", P::NotFinite, "nan"),
        (Quantity::Power, "1e999 W", P::NotFinite, "1e999"),
        (Quantity::Power, "-3 W", P::Negative, "-3"),
        (Quantity::Power, "0 W", P::Zero, "0"),
        (Quantity::Power, "  ", P::Empty, "  "),
        (
            Quantity::Temperature,
            "5 K",
            P::DifferenceNotTemperature,
            "5 K",
        ),
        (Quantity::Temperature, "50 V", P::UnitUnknown(None), "V"),
        (Quantity::RunLength, "5..7 m", P::UnitUnknown(None), "..7 m"),
        (Quantity::RunLength, "1/0 in", P::NotFinite, "1/0"),
    ];
    for (quantity, text, expected, word) in cases {
        assert_eq!(
            problem(*quantity, text),
            (expected.clone(), (*word).to_owned()),
            "{text}"
        );
    }
}

#[test]
fn a_value_at_the_beginning_of_a_longer_text() {
    let cases = [
        (Quantity::RunLength, "5m 6 elbow", 5.0, 2),
        (Quantity::RunLength, " 5 m water", 5.0, 4),
        (Quantity::RunLength, "5 6 elbow", 5.0, 1),
        (Quantity::RunLength, "5..7m", 5.0, 1),
        (Quantity::RunLength, "7m?coil", 7.0, 2),
        (Quantity::RunLength, "16' 2 elbow", 16.0 * 0.3048, 3),
        (Quantity::Head, "2 m water at 3 l/min", 2.0 * 9806.65, 9),
        (Quantity::Head, "12 ft head, x", 12.0 * 0.3048, 10),
        (Quantity::Kv, "kv 9 on return", 9.0, 4),
        (Quantity::Kv, "9 on return", 9.0, 1),
    ];
    for (quantity, text, value, len) in cases {
        let read = prefix(quantity, text, Sign::Positive).expect(text);
        assert!((read.value - value).abs() < 1e-12, "{text}: {}", read.value);
        assert_eq!(read.len, len, "{text}");
    }
    let error =
        prefix(Quantity::RunLength, "5mtr 6 elbow", Sign::Positive).expect_err("no such unit");
    assert_eq!(error.span, 1..4);
}

#[test]
fn metres_of_head_stay_metres_of_the_fluid() {
    assert_eq!(head("3.5 m"), Ok(Head::Fluid(Metre(3.5))));
    assert_eq!(
        head("3.5 m water"),
        Ok(Head::Pressure(Pressure(3.5 * 9806.65)))
    );
    assert_eq!(head("34 kPa"), Ok(Head::Pressure(Pressure(34e3))));
}

#[test]
fn shown_to_the_stated_precision() {
    let units = Units::default();
    let show = Show::new(&units);
    let flow = |l_min: f64| show.flow(VolumeFlow(l_min / 6e4));
    assert_eq!(
        [flow(14.437), flow(99.97), flow(0.86249), flow(120.4)],
        ["14.4 l/min", "100 l/min", "0.862 l/min", "120 l/min"]
    );
    assert_eq!(show.pressure(Pressure(2849.0)), "2.8 kPa");
    assert_eq!(show.pressure(Pressure(57.0)), "57 Pa");
    assert_eq!(show.pressure(Pressure(-99.6)), "-0.1 kPa");
    assert_eq!(show.power(Watt(9999.0)), "9999 W");
    assert_eq!(show.power(Watt(11_254.0)), "11.25 kW");
    assert_eq!(
        show.signs(Signs::Print).pressure(Pressure(-1200.0)),
        "−1.2\u{a0}kPa"
    );
    assert_eq!(show.number(-0.0004, 2), "0.00");
    assert_eq!(show.power(Watt(f64::NAN)), "–");
    assert_eq!(shown_unit(Quantity::Flow, " M³/h"), Some("m3/h"));
}
