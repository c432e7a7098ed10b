//! Runs and emitters as CSV: one row for each in each state, the unit in each heading, the same units as the JSON.

use super::json::{self, Check};
use super::sheet::{Row, Sheet, row};

/// How every table of runs begins.
pub const RUNS_BEGIN: &str = "run,name,side,kind,pipe,bore_mm,length_m,";

/// How every table of emitters begins.
pub const EMITTERS_BEGIN: &str = "emitter,kind,room,room_c,duty_w,";

row! {
    struct RunRow {
        run: String,
        name: String,
        side: String,
        kind: String,
        pipe: String,
        bore_mm: Option<f64>,
        length_m: Option<f64>,
        from: String,
        to: String,
        state: String,
        required_flow_kg_s: Option<f64>,
        required_flow_m3_h: Option<f64>,
        required_duty_w: Option<f64>,
        required_velocity_m_s: Option<f64>,
        required_gradient_pa_m: Option<f64>,
        required_loss_pa: Option<f64>,
        running_flow_kg_s: Option<f64>,
        running_loss_pa: Option<f64>,
        running_in_c: Option<f64>,
        running_out_c: Option<f64>,
    }
}

row! {
    struct EmitterRow {
        emitter: String,
        kind: String,
        room: String,
        room_c: Option<f64>,
        duty_w: Option<f64>,
        state: String,
        required_flow_kg_s: Option<f64>,
        required_drop_k: Option<f64>,
        asks_c: Option<f64>,
        asks_at_source_c: Option<f64>,
        running_flow_kg_s: Option<f64>,
        running_in_c: Option<f64>,
        running_out_c: Option<f64>,
        running_heat_w: Option<f64>,
        running_valve_pa: Option<f64>,
        lockshield_kv: Option<f64>,
        lockshield_from: String,
    }
}

/// The states that either view of one thing knows, in order.
fn states<'a>(
    required: impl Iterator<Item = &'a String>,
    running: impl Iterator<Item = &'a String>,
) -> Vec<&'a String> {
    let mut all: Vec<&String> = Vec::new();
    for state in required.chain(running) {
        if !all.contains(&state) {
            all.push(state);
        }
    }
    all
}

/// Every run in every state, as CSV.
pub fn runs(check: &Check) -> String {
    text(&run_sheet(check))
}

/// Every run in every state.
pub fn run_sheet(check: &Check) -> Sheet {
    let rows = check.runs.iter().flat_map(|run| {
        let known = states(
            run.required.iter().map(|r| &r.state),
            run.running.iter().map(|r| &r.state),
        );
        known.into_iter().map(|state| {
            let required = run.required.iter().find(|r| r.state == *state);
            let running = run.running.iter().find(|r| r.state == *state);
            RunRow {
                run: run.tag.clone(),
                name: run.name.clone(),
                side: run.side.clone().unwrap_or_default(),
                kind: run.kind.clone(),
                pipe: run.pipe.clone(),
                bore_mm: run.bore_mm,
                length_m: run.length_m,
                from: run.from.clone(),
                to: run.to.clone(),
                state: state.clone(),
                required_flow_kg_s: required.and_then(|r| r.flow_kg_s),
                required_flow_m3_h: required.and_then(|r| r.flow_m3_h),
                required_duty_w: required.and_then(|r| r.duty_w),
                required_velocity_m_s: required.and_then(|r| r.velocity_m_s),
                required_gradient_pa_m: required.and_then(|r| r.gradient_pa_m),
                required_loss_pa: required.and_then(|r| r.loss_pa),
                running_flow_kg_s: running.and_then(|r| r.flow_kg_s),
                running_loss_pa: running.and_then(|r| r.loss_pa),
                running_in_c: running.and_then(|r| r.in_c),
                running_out_c: running.and_then(|r| r.out_c),
            }
        })
    });
    Sheet::of("runs", rows)
}

/// Every emitter in every state, as CSV.
pub fn emitters(check: &Check) -> String {
    text(&emitter_sheet(check))
}

/// Every emitter in every state.
pub fn emitter_sheet(check: &Check) -> Sheet {
    let rows = check.emitters.iter().flat_map(|emitter: &json::Emitter| {
        let known = states(
            emitter.required.iter().map(|r| &r.state),
            emitter.running.iter().map(|r| &r.state),
        );
        known.into_iter().map(|state| {
            let required = emitter.required.iter().find(|r| r.state == *state);
            let running = emitter.running.iter().find(|r| r.state == *state);
            EmitterRow {
                emitter: emitter.name.clone(),
                kind: emitter.kind.clone(),
                room: emitter.room.clone().unwrap_or_default(),
                room_c: emitter.room_c,
                duty_w: emitter.duty_w,
                state: state.clone(),
                required_flow_kg_s: required.and_then(|r| r.flow_kg_s),
                required_drop_k: required.and_then(|r| r.drop_k),
                asks_c: required.and_then(|r| r.asks_c),
                asks_at_source_c: required.and_then(|r| r.asks_at_source_c),
                running_flow_kg_s: running.and_then(|r| r.flow_kg_s),
                running_in_c: running.and_then(|r| r.in_c),
                running_out_c: running.and_then(|r| r.out_c),
                running_heat_w: running.and_then(|r| r.heat_w),
                running_valve_pa: running.and_then(|r| r.valve_pa),
                lockshield_kv: running.and_then(|r| r.lockshield_kv),
                lockshield_from: running
                    .and_then(|r| r.lockshield_from.clone())
                    .unwrap_or_default(),
            }
        })
    });
    Sheet::of("emitters", rows)
}

pub(super) fn table<R: Row>(rows: impl Iterator<Item = R>) -> String {
    text(&Sheet::of("", rows))
}

/// A table as CSV.
pub fn text(sheet: &Sheet) -> String {
    let mut writer = ::csv::Writer::from_writer(Vec::new());
    // writing rows of one shape to memory cannot fail
    let mut fine = writer.write_record(sheet.heads).is_ok();
    for row in &sheet.rows {
        fine = fine && writer.serialize(row).is_ok();
    }
    let bytes = writer.into_inner().unwrap_or_default();
    String::from_utf8(bytes).unwrap_or_default()
}
