//! The embedded tables against copies of the handbook tables (each CSV names its source in its first lines), and every
//! unit against its definition.

use pipecarry::catalogue::{Catalogue, Loss, PanelProblem, Pipe};
use pipecarry::quantity::{Celsius, Kelvin, Metre, Pressure, VolumeFlow, Watt};
use pipecarry::units::{self, Quantity, Show, Sign, Units};
use std::collections::BTreeMap;

type Record = BTreeMap<String, String>;
type WordOf = fn(&Record) -> String;

/// Rows of a handbook table by the names of its columns.
fn table(name: &str) -> Vec<Record> {
    let path = format!(
        "{}/tests/data/handbook/{name}.csv",
        env!("CARGO_MANIFEST_DIR")
    );
    let mut reader = csv::ReaderBuilder::new()
        .comment(Some(b'#'))
        .from_path(&path)
        .unwrap_or_else(|e| panic!("{path}: {e}"));
    let rows: Vec<Record> = reader
        .deserialize()
        .collect::<Result<_, _>>()
        .unwrap_or_else(|e| panic!("{path}: {e}"));
    assert!(!rows.is_empty(), "{path} has no rows");
    rows
}

fn figure(row: &Record, column: &str) -> f64 {
    let text = row
        .get(column)
        .unwrap_or_else(|| panic!("no column {column}"));
    text.split(' ')
        .next()
        .unwrap_or_default()
        .parse()
        .unwrap_or_else(|_| panic!("{column}: {text}"))
}

fn catalogue() -> &'static Catalogue {
    Catalogue::embedded()
}

fn pipe(word: &str) -> &'static Pipe {
    catalogue()
        .pipe(word)
        .unwrap_or_else(|| panic!("no pipe {word}"))
}

fn near(got: f64, wanted: f64, tolerance: f64) -> bool {
    (got - wanted).abs() <= tolerance
}

#[test]
fn pipes_have_the_handbook_sizes_and_hold_its_water() {
    // a table, the word of its rows from outside x wall or from the nominal size
    let tables: [(&str, WordOf); 5] = [
        ("pipe_copper_en1057", |r| {
            format!("cu{}x{}", figure(r, "outside_mm"), figure(r, "wall_mm"))
        }),
        ("pipe_steel_en10255_medium", |r| {
            format!(
                "steel {}",
                r["nominal"].split_once(' ').map_or("", |(_, inch)| inch)
            )
        }),
        ("pipe_plastic_uk", |r| format!("pb{}", r["nominal"])),
        ("pipe_pex_iso15875_metric", |r| {
            format!("pex{}x{}", figure(r, "outside_mm"), figure(r, "wall_mm"))
        }),
        ("pipe_multilayer_iso21003", |r| {
            format!("ml{}x{}", figure(r, "outside_mm"), figure(r, "wall_mm"))
        }),
    ];
    let mut wrong = Vec::new();
    for (name, word) in tables {
        for row in table(name) {
            let word = word(&row);
            let Some(pipe) = catalogue().pipe(&word) else {
                wrong.push(format!("{name}: no pipe `{word}`"));
                continue;
            };
            let outside = pipe.outside.map_or(0.0, |o| o.0 * 1e3);
            let water = pipe.water_per_metre().0 * 1e3;
            if !near(outside, figure(&row, "outside_mm"), 1e-9)
                || !near(pipe.bore.0 * 1e3, figure(&row, "bore_mm"), 1e-9)
                || !near(water, figure(&row, "volume_l_per_m"), 0.51e-4)
            {
                wrong.push(format!(
                    "{name}: {word}: {outside} outside, {:?} bore, {water} l/m",
                    pipe.bore
                ));
            }
        }
    }
    assert!(wrong.is_empty(), "{}", wrong.join("\n"));
}

#[test]
fn short_words_mean_the_usual_wall() {
    // word, bore in mm, source
    let rows = [
        (
            "cu8",
            6.8,
            "trade notes on UK copper to EN 1057, microbore 8x0.6",
        ),
        ("cu10", 8.6, "the same, 10x0.7"),
        ("cu15", 13.6, "the same, 15x0.7"),
        ("cu22", 20.2, "the same, 22x0.9"),
        ("cu28", 26.2, "the same, 28x0.9"),
        ("cu35", 32.6, "the same, 35x1.2"),
        ("cu42", 39.6, "the same, 42x1.2"),
        ("cu54", 51.6, "the same, 54x1.2"),
        ("pb10", 6.8, "trade notes on UK plastic"),
        ("pb15", 11.6, "the same"),
        ("pex22", 17.8, "the same"),
        ("pex28", 22.6, "the same"),
        ("ml16", 12.0, "trade notes on multilayer 16x2"),
        ("ml26", 20.0, "the same, 26x3"),
        ("pex16", 12.0, "commonest floor heating pipe 16x2"),
        ("floor16", 12.0, "the same"),
        (
            "steel 3/4",
            21.7,
            "trade notes on steel medium, 20 mm nominal",
        ),
        ("steel dn25", 27.3, "the same, 25 mm nominal"),
    ];
    for (word, bore_mm, source) in rows {
        assert!(
            near(pipe(word).bore.0 * 1e3, bore_mm, 1e-9),
            "{word}: {source}"
        );
    }
    for (word, roughness_row) in [("cu22", 0), ("pb22", 2), ("ml16", 2), ("steel 1", 4)] {
        let row = &table("pipe_roughness")[roughness_row];
        assert!(
            near(pipe(word).roughness.0 * 1e3, figure(row, "k_mm"), 1e-12),
            "{word}: {row:?}"
        );
    }
    let twin = |word| catalogue().plastic_twin(word).map(|p| p.word.as_str());
    assert_eq!(
        [twin("cu15"), twin("cu22"), twin("cu28"), twin("cu35")],
        [Some("pb15"), Some("pb22"), Some("pb28"), None]
    );
}

fn length_m(word: &str, pipe: &Pipe) -> f64 {
    match catalogue().item_loss(word, pipe, None).map(|s| s.loss) {
        Some(Loss::Length(metres)) => metres.0,
        other => panic!("{word} in {}: {other:?}", pipe.word),
    }
}

fn zeta(word: &str, pipe: &Pipe, insert: Option<Metre>) -> f64 {
    match catalogue().item_loss(word, pipe, insert).map(|s| s.loss) {
        Some(Loss::Zeta(zeta)) => zeta,
        other => panic!("{word} in {}: {other:?}", pipe.word),
    }
}

#[test]
fn copper_fittings_have_the_published_equivalent_lengths() {
    let words = [
        ("capillary_elbow", "elbow"),
        ("compression_elbow", "compression elbow"),
        ("minimum_radius_bend", "bend"),
        ("straight_pattern_valve", "straight valve"),
        ("angle_pattern_valve", "angle valve"),
    ];
    let rows = table("fitting_equivalent_length_copper_cda");
    assert_eq!(rows.len(), words.len());
    for (printed, word) in words {
        let row = rows
            .iter()
            .find(|r| r["fitting"] == printed)
            .expect(printed);
        for size in [8, 10, 12, 15, 22, 28] {
            let got = length_m(word, pipe(&format!("cu{size}")));
            assert!(
                near(got, figure(row, &format!("d{size}_m")), 1e-12),
                "{word} at {size}: {got}"
            );
        }
    }
    // between and above the printed sizes: interpolated at 18 mm, and never shorter on a wider pipe
    assert!(near(
        length_m("elbow", pipe("cu18")),
        0.37 + (0.60 - 0.37) * 3.0 / 7.0,
        1e-12
    ));
    assert!(length_m("elbow", pipe("cu35")) > 0.83);
}

#[test]
fn plastic_and_multilayer_fittings_have_the_published_zeta() {
    let words = [
        ("coupling", "coupling"),
        ("elbow90", "elbow"),
        ("elbow45", "elbow 45"),
        ("tee_through", "tee through"),
    ];
    let rows = table("fitting_zeta_multilayer_press");
    let sizes = [
        "16x2", "18x2", "20x2", "26x3", "32x3", "40x3.5", "50x4", "63x4.5",
    ];
    for (printed, word) in words {
        let row = rows
            .iter()
            .find(|r| r["fitting"] == printed)
            .expect(printed);
        for size in sizes {
            let got = zeta(word, pipe(&format!("ml{size}")), None);
            assert!(
                near(got, figure(row, &format!("d{size}")), 1e-12),
                "{word} at {size}: {got}"
            );
        }
    }
}

#[test]
fn an_insert_multiplies_by_the_fourth_power_of_the_bores() {
    // trade notes: a 9 mm insert in an 11.6 mm pipe multiplies by 2.8
    let ratio: f64 = 11.6 / 9.0;
    assert!(near(ratio.powi(4), 2.8, 0.05));
    let pb15 = pipe("pb15");
    let insert = Some(Metre(0.009));
    let a = (9.0_f64 / 11.6).powi(2);
    let by_hand = (0.5 * (1.0 - a) + (1.0 - a) * (1.0 - a)) * ratio.powi(4);
    assert!(near(zeta("coupling", pb15, insert), by_hand, 1e-12));
    assert!(near(
        zeta("elbow", pb15, insert),
        by_hand + 0.7 * ratio.powi(4),
        1e-12
    ));
    let too_wide = Some(Metre(0.012));
    assert_eq!(
        zeta("elbow", pb15, too_wide),
        zeta("elbow", pb15, None),
        "an insert that is none changes nothing"
    );
}

#[test]
fn other_fittings_have_the_handbook_zeta() {
    let din = table("fitting_zeta_din1988");
    let copper = pipe("cu22");
    let rows = [
        ("sharp_angle_90", "knee"),
        ("sharp_angle_45", "elbow 45"),
        ("elbow_or_bend_default", "press elbow"),
        ("crossover_bend", "crossover"),
        ("tee_branch_dividing", "tee branch"),
        ("tee_through_combining", "tee through"),
        ("reducer", "reducer"),
        ("manifold_outlet", "manifold outlet"),
        ("manifold_inlet", "manifold inlet"),
        ("vessel_outlet", "vessel outlet"),
        ("vessel_inlet", "vessel inlet"),
        ("expansion_bellows", "bellows"),
    ];
    for (printed, word) in rows {
        let row = din.iter().find(|r| r["fitting"] == printed).expect(printed);
        assert!(
            near(zeta(word, copper, None), figure(row, "zeta"), 1e-12),
            "{word}"
        );
    }
    let bands = table("fitting_zeta_by_diameter");
    let by_band = [
        ("bend90_tight_r_d_1.5", "elbow"),
        ("bend90_normal_r_d_2.5", "bend"),
        ("ubend_normal", "u-bend"),
        ("gate_valve_full_bore", "gate valve"),
        ("globe_valve_straight", "globe valve"),
        ("butterfly_valve", "butterfly valve"),
        ("enlargement", "enlargement"),
    ];
    for (printed, word) in by_band {
        let row = bands
            .iter()
            .find(|r| r["fitting"] == printed)
            .expect(printed);
        for (steel, column) in [
            ("steel 3/8", "b8_16"),
            ("steel 3/4", "b18_28"),
            ("steel 1 1/4", "b30_54"),
        ] {
            assert!(
                near(zeta(word, pipe(steel), None), figure(row, column), 1e-12),
                "{word} in {steel}"
            );
        }
    }
    for (row, ours) in table("fitting_zeta_tee_flow_ratio")
        .iter()
        .zip(&catalogue().tees)
    {
        let theirs = [
            "q_branch_over_total",
            "dividing_branch",
            "dividing_through",
            "combining_branch",
            "combining_through",
        ]
        .map(|c| figure(row, c));
        let ours = [
            ours.q,
            ours.dividing_branch,
            ours.dividing_through,
            ours.combining_branch,
            ours.combining_through,
        ];
        assert_eq!(theirs, ours);
    }
}

#[test]
fn devices_have_the_typical_kv() {
    let table = table("component_kv_typical");
    // printed name, our word, pipe in which it is met
    let rows = [
        ("ball_valve_full_bore_22mm", "ball valve", "cu22"),
        (
            "isolating_valve_15mm_reduced_bore_ball",
            "isolating valve",
            "cu15",
        ),
        ("motorised_2port_22mm", "zone valve", "cu22"),
        ("motorised_2port_28mm", "zone valve", "cu28"),
        ("diverter_3port_22mm", "diverter", "cu22"),
        ("diverter_3port_28mm", "diverter", "cu28"),
        ("magnetic_filter_22mm_clean", "magnetic filter", "cu22"),
        ("magnetic_filter_28mm_clean", "magnetic filter", "cu28"),
        ("y_strainer_22mm_clean", "strainer", "cu22"),
        ("y_strainer_28mm_clean", "strainer", "cu28"),
        ("heat_meter_qp1.5", "heat meter", "cu22"),
        ("heat_meter_qp2.5", "heat meter", "cu28"),
        ("check_valve_22mm", "check valve", "cu22"),
        ("antifreeze_valve_28mm", "antifreeze valve", "cu28"),
        ("flexible_hose_28mm_each", "flexible hose", "cu28"),
        ("lockshield_15mm_full_open", "lockshield", "cu15"),
    ];
    for (printed, word, size) in rows {
        let row = table
            .iter()
            .find(|r| r["component"] == printed)
            .expect(printed);
        let sourced = catalogue().item_loss(word, pipe(size), None).expect(word);
        let kv = match sourced.loss {
            Loss::Kv(kv) | Loss::OneWay(_, kv) => kv.0,
            other => panic!("{word}: {other:?}"),
        };
        assert!(
            near(kv, figure(row, "kv_typical"), 1e-9),
            "{word} in {size}: {kv}"
        );
        let (low, high) = sourced.range.expect(word);
        assert!(
            near(low, figure(row, "kv_low"), 1e-9) && near(high, figure(row, "kv_high"), 1e-9),
            "{word} in {size}"
        );
    }
    let thermostatic = table
        .iter()
        .find(|r| r["component"] == "trv_15mm_at_2K_no_preset")
        .expect("a row");
    let ours = catalogue().valve("thermostatic").expect("a row");
    assert!(near(ours.kv.0, figure(thermostatic, "kv_typical"), 1e-12));
    for size in ["cu8", "cu15", "pb22", "ml63", "steel 2"] {
        for item in &catalogue().items {
            let loss = catalogue().item_loss(&item.word, pipe(size), None);
            assert!(loss.is_some(), "{} has no loss in {size}", item.word);
        }
    }
}

#[test]
fn panel_radiators_lie_in_the_typical_range() {
    for row in table("radiator_panel_typical") {
        let (kind, height) = (&row["type"], figure(&row, "height_mm") / 1e3);
        let panel = catalogue()
            .panel(kind, Metre(height), Metre(1.6))
            .expect("a row");
        let (low, high) = (
            figure(&row, "w_per_m_low_50K"),
            figure(&row, "w_per_m_high_50K"),
        );
        assert!(
            near(panel.output.0, 0.5 * (low + high) * 1.6, 1e-9),
            "{kind} {height}"
        );
        assert!(
            near(
                panel.water.0 * 1e3,
                figure(&row, "water_l_per_m") * 1.6,
                1e-9
            ),
            "{kind} {height}"
        );
        if let Ok(formula) = row["w_per_m_formula"].parse::<f64>() {
            let share = panel.output.0 / 1.6 / formula - 1.0;
            assert!(
                share.abs() < 0.08,
                "{kind} {height}: {share} from P = 41 kp L (1 + 8 H) of a public page"
            );
        }
    }
    // one public page gives 2146 W for a type 22 of 600 x 1200 mm
    let panel = catalogue()
        .panel("22", Metre(0.6), Metre(1.2))
        .expect("a row");
    assert!(
        panel.least.0 <= 2146.0 && 2146.0 <= panel.greatest.0,
        "{panel:?}"
    );
    let exponents = table("radiator_exponent_typical");
    for (printed, kind) in [
        ("panel type 21", "21"),
        ("panel type 22", "22"),
        ("panel type 33", "33"),
    ] {
        let row = exponents
            .iter()
            .find(|r| r["emitter"] == printed)
            .expect(printed);
        let panel = catalogue()
            .panel(kind, Metre(0.6), Metre(1.0))
            .expect("a row");
        assert_eq!(panel.exponent, figure(row, "n_typical"));
    }
    for (printed, word) in [
        ("column / cast iron", "column"),
        ("towel rail", "towel rail"),
        ("finned convector, natural", "convector"),
        ("fan convector (fixed fan speed)", "fan convector"),
    ] {
        let row = exponents
            .iter()
            .find(|r| r["emitter"] == printed)
            .expect(printed);
        assert_eq!(
            catalogue().emitter(word).map(|e| e.exponent),
            Some(figure(row, "n_typical")),
            "{word}"
        );
    }
    assert_eq!(
        catalogue().panel("222", Metre(0.6), Metre(1.0)),
        Err(PanelProblem::UnknownType(Some("22".into())))
    );
    assert_eq!(
        catalogue().panel("22", Metre(1.6), Metre(1.0)),
        Err(PanelProblem::Height(Metre(0.3), Metre(0.9)))
    );
}

#[test]
fn bare_pipe_loses_the_computed_heat_and_lagging_saves_most_of_it() {
    for row in table("pipe_heat_bare_computed") {
        let size = figure(&row, "outside_mm");
        let copper = catalogue().heat_loss_w_mk(pipe(&format!("cu{size}")), None);
        assert!(near(copper * 25.0, figure(&row, "e05_25K"), 1e-9), "{size}");
    }
    // by hand: 22 mm pipe with 19 mm lagging of 0.04 W/mK, 10 W/m²K outside:
    // ln(60/22)/(2π·0.04) + 1/(10π·0.06) = 3.992 + 0.531 = 4.523 mK/W
    let lagged = catalogue().heat_loss_w_mk(pipe("cu22"), Some(Metre(0.019)));
    assert!(near(lagged, 1.0 / 4.523, 1e-4), "{lagged}");
}

#[test]
fn every_limit_is_readable_and_has_its_source() {
    for limit in &catalogue().limits {
        assert!(
            units::read(limit.quantity, &limit.words).is_ok(),
            "{}",
            limit.key
        );
        assert!(
            !limit.source.is_empty() && !limit.confidence.is_empty(),
            "{}",
            limit.key
        );
    }
    // key, SI value, counts for the verdict: the defaults of the design
    for (key, value, counts) in [
        ("velocity", 1.0, true),
        ("velocity plant", 1.5, true),
        ("erosion", 2.5, true),
        ("gradient", 300.0, false),
        ("low velocity", 0.5, false),
        ("head margin", 3000.0, true),
        ("margin", 0.1, true),
        ("floor surface", 29.0, true),
    ] {
        let limit = catalogue()
            .limit(key)
            .unwrap_or_else(|| panic!("no limit {key}"));
        assert_eq!((limit.value, limit.counts), (value, counts), "{key}");
    }
}

#[test]
fn every_unit_by_its_definition() {
    use Quantity as Q;
    let (foot, gallon, btu, water) = (
        0.3048,
        231.0 * 0.0254_f64.powi(3),
        1_055.055_852_62,
        9806.65,
    );
    let inch = "international inch of 25.4 mm (1959)";
    let us_gallon = "US gallon of 231 cubic inches";
    let metre_water = "conventional metre of water, 9806.65 Pa (ISO 80000-4)";
    let table_btu = "international table BTU, 1055.05585262 J (ISO 80000-5)";
    let pound = "pound-force per square inch, 6894.757 Pa (NIST SP 811)";
    let si = "SI Brochure, 9th edition";
    let fahrenheit = "0 F = -17.78 C, 9 F = 5 K (NIST SP 811)";
    let us_kv = "Cv = 1.156 kv (trade rule; US gallon a minute at 1 psi)";
    let cases: &[(Q, &str, f64, &str)] = &[
        (Q::Flow, "12 l/min", 2e-4, si),
        (Q::Flow, "12 L/min", 2e-4, si),
        (Q::Flow, "0.2 l/s", 2e-4, si),
        (Q::Flow, "720 l/h", 2e-4, si),
        (Q::Flow, "0.72 m3/h", 2e-4, si),
        (Q::Flow, "0.72 m³/h", 2e-4, si),
        (Q::Flow, "0.72 m3 per h", 2e-4, si),
        (Q::Flow, "1 gpm", gallon / 60.0, us_gallon),
        (Q::MassFlow, "0.2 kg/s", 0.2, si),
        (Q::Pressure, "20 kPa", 2e4, si),
        (Q::Pressure, "200 Pa", 200.0, si),
        (Q::Pressure, "200 mbar", 2e4, si),
        (Q::Pressure, "0.2 bar", 2e4, si),
        (Q::Pressure, "1 m water", water, metre_water),
        (Q::Pressure, "100 mm water", water / 10.0, metre_water),
        (Q::Pressure, "100 mmwg", water / 10.0, metre_water),
        (Q::Pressure, "1 psi", 6_894.757_293, pound),
        (Q::RunLength, "5", 5.0, "plain numbers of a run are m"),
        (Q::RunLength, "5 m", 5.0, si),
        (Q::RunLength, "500 cm", 5.0, si),
        (Q::RunLength, "16 ft", 16.0 * foot, inch),
        (Q::RunLength, "16'", 16.0 * foot, inch),
        (Q::Size, "600", 0.6, "plain numbers of a size are mm"),
        (Q::Size, "22 mm", 0.022, si),
        (Q::Size, "3/4 in", 0.01905, inch),
        (Q::Size, "1 1/4\"", 0.03175, inch),
        (Q::Power, "1100", 1100.0, "plain numbers of a power are W"),
        (Q::Power, "1.1 kW", 1100.0, si),
        (Q::Power, "1100 W", 1100.0, si),
        (Q::Power, "3600 BTU/h", btu, table_btu),
        (
            Q::Temperature,
            "45",
            45.0,
            "plain numbers of a temperature are °C",
        ),
        (Q::Temperature, "45 °C", 45.0, si),
        (Q::Temperature, "45C", 45.0, si),
        (Q::Temperature, "318.15 K", 45.0, si),
        (Q::Temperature, "113 F", 45.0, fahrenheit),
        (Q::Temperature, "-3 C", -3.0, si),
        (Q::Temperature, "−3 °C", -3.0, "true minus"),
        (Q::Difference, "5 K", 5.0, si),
        (
            Q::Difference,
            "5",
            5.0,
            "plain numbers of a difference are K",
        ),
        (Q::Difference, "5 C", 5.0, si),
        (Q::Difference, "9 F", 5.0, fahrenheit),
        (Q::Volume, "40", 0.04, "plain numbers of a volume are l"),
        (Q::Volume, "40 l", 0.04, si),
        (Q::Volume, "0.04 m3", 0.04, si),
        (Q::Volume, "1 gal", gallon, us_gallon),
        (Q::Kv, "2.5", 2.5, "plain numbers of a flow factor are kv"),
        (Q::Kv, "kv 2.5", 2.5, "m3/h at 1 bar"),
        (Q::Kv, "2.5 kv", 2.5, "m3/h at 1 bar"),
        (
            Q::Kv,
            "cv 1",
            gallon * 60.0 * (1e5_f64 / 6_894.757_293).sqrt(),
            us_kv,
        ),
        (Q::Energy, "0.2 kWh", 7.2e5, si),
        (Q::Energy, "0.72 MJ", 7.2e5, si),
        (Q::Energy, "720000 J", 7.2e5, si),
        (Q::Time, "10 min", 600.0, si),
        (Q::Time, "600 s", 600.0, si),
        (Q::Time, "1 h", 3600.0, si),
        (Q::Velocity, "1 m/s", 1.0, si),
        (Q::Gradient, "300 Pa/m", 300.0, si),
        (Q::Gradient, "3 mbar/m", 300.0, si),
        (Q::Gradient, "10 mm/m", water / 100.0, metre_water),
        (Q::Gradient, "4 ft/100ft", 4.0 * water / 100.0, metre_water),
        (Q::HeatPerKelvin, "75 W/K", 75.0, si),
        (Q::Area, "14 m2", 14.0, si),
        (Q::Area, "14 m²", 14.0, si),
        (Q::HeatResistance, "0.1 m2K/W", 0.1, si),
        (Q::Density, "992 kg/m³", 992.0, si),
        (Q::HeatCapacity, "4.18 kJ/kgK", 4180.0, si),
        (Q::Viscosity, "0.65 mPa s", 6.5e-4, si),
        (Q::Share, "80%", 0.8, "percent"),
    ];
    let mut wrong = Vec::new();
    for (quantity, text, value, source) in cases {
        match units::read(*quantity, text) {
            Ok(got) if near(got, *value, 1e-9 * value.abs().max(1e-9)) => {}
            got => wrong.push(format!("{text}: {got:?}, wanted {value} ({source})")),
        }
    }
    assert!(wrong.is_empty(), "{}", wrong.join("\n"));
    let cv = 1.0 / units::read(Q::Kv, "cv 1").expect("a flow factor");
    assert!(near(cv, 1.156, 5e-4), "{us_kv}: {cv}");
    assert_eq!(units::plain(Q::Size, 600.0, Sign::Positive), Ok(0.6));
    assert!(
        units::plain(Q::Flow, 12.0, Sign::Positive).is_err(),
        "a flow always carries its unit"
    );
}

#[test]
fn every_unit_of_display_reads_back() {
    let shown = [
        (
            Quantity::Flow,
            ["l/min", "l/s", "l/h", "m3/h", "gpm"].as_slice(),
        ),
        (
            Quantity::Pressure,
            ["kPa", "Pa", "mbar", "bar", "mm water", "m water", "psi"].as_slice(),
        ),
        (Quantity::Power, ["kW", "W", "BTU/h"].as_slice()),
        (Quantity::Temperature, ["C", "F"].as_slice()),
        (Quantity::RunLength, ["m", "ft"].as_slice()),
    ];
    for (quantity, list) in shown {
        for unit in list {
            assert_eq!(units::shown_unit(quantity, unit), Some(*unit));
            let mut units = Units::default();
            match quantity {
                Quantity::Flow => units.flow = (*unit).into(),
                Quantity::Pressure => units.pressure = (*unit).into(),
                Quantity::Power => units.power = (*unit).into(),
                Quantity::Temperature => units.temperature = (*unit).into(),
                _ => units.length = (*unit).into(),
            }
            let show = Show::new(&units);
            let (text, value) = match quantity {
                Quantity::Flow => (show.flow(VolumeFlow(4e-4)), 4e-4),
                Quantity::Pressure => (show.pressure(Pressure(23_456.0)), 23_456.0),
                Quantity::Power => (show.power(Watt(12_345.0)), 12_345.0),
                Quantity::Temperature => (show.temperature(Celsius(47.3)), 47.3),
                _ => (show.length(Metre(12.34)), 12.34),
            };
            let back =
                pipecarry::units::read(quantity, &text).unwrap_or_else(|e| panic!("{text}: {e:?}"));
            assert!(near(back, value, 0.01 * value), "{text}: {back}");
        }
    }
    let units = Units {
        temperature: "F".into(),
        ..Units::default()
    };
    assert_eq!(Show::new(&units).difference(Kelvin(5.0)), "9.0 °F");
}

#[test]
fn the_readme_names_every_word_of_a_leg() {
    let readme = include_str!("../../README.md");
    let c = catalogue();
    let items = c.items.iter().map(|i| &i.word);
    let words = items
        .chain(c.lies.iter().map(|l| &l.word))
        .chain(c.conditions.iter().map(|k| &k.word));
    let missing: Vec<&String> = words
        .filter(|w| !readme.contains(&format!("`{w}`")))
        .collect();
    assert!(missing.is_empty(), "README.md says nothing of {missing:?}");
    // and the other way round: what its table offers for pipes is in the catalogue
    let table = readme
        .lines()
        .skip_while(|l| *l != "## Every word of a leg")
        .filter(|l| l.starts_with('|'));
    let pipes = table.take(6).flat_map(|l| l.split('`').skip(1).step_by(2));
    let unknown: Vec<&str> = pipes.filter(|w| c.pipe(w).is_none()).collect();
    assert!(unknown.is_empty(), "the catalogue has no {unknown:?}");
}
