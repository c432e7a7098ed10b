//! Colours of the sheet and their style sheet.

use super::style::Theme;

/// Colours of a theme, by role. Contrast against the sheet stands in the developers' page.
pub(crate) struct Palette {
    pub sheet: &'static str,
    pub ink: &'static str,
    pub faint: &'static str,
    pub flow: &'static str,
    pub back: &'static str,
    pub band: &'static str,
    pub edge: &'static str,
    pub holds: &'static str,
    pub tight: &'static str,
    pub fails: &'static str,
}

pub(crate) static LIGHT: Palette = Palette {
    sheet: "#FFFFFF",
    ink: "#1A1A1A",
    faint: "#50565C",
    flow: "#7A120B",
    back: "#2563AF",
    band: "#F5EBC0",
    edge: "#B9A552",
    holds: "#00735A",
    tight: "#E69F00",
    fails: "#C23B00",
};

pub(crate) static DARK: Palette = Palette {
    sheet: "#14181D",
    ink: "#E8EAED",
    faint: "#A9B0B8",
    flow: "#FFC9BC",
    back: "#6FAAF0",
    band: "#3A3412",
    edge: "#7A6C2A",
    holds: "#3CC7A0",
    tight: "#F0B429",
    fails: "#FF7A45",
};

pub(crate) static INK: Palette = Palette {
    sheet: "#FFFFFF",
    ink: "#1A1A1A",
    faint: "#1A1A1A",
    flow: "#1A1A1A",
    back: "#1A1A1A",
    band: "#EDEDED",
    edge: "#767676",
    holds: "#FFFFFF",
    tight: "#FFFFFF",
    fails: "#FFFFFF",
};

fn variables(p: &Palette) -> String {
    format!(
        "--sheet:{};--ink:{};--faint:{};--flow:{};--back:{};--strip:{};--edge:{};--holds:{};--tight:{};--fails:{}",
        p.sheet, p.ink, p.faint, p.flow, p.back, p.band, p.edge, p.holds, p.tight, p.fails
    )
}

/// The style sheet: colours as variables, dark where asked for, light in print.
pub(crate) fn style_sheet(theme: Theme) -> String {
    let base = match theme {
        Theme::Dark => &DARK,
        Theme::Ink => &INK,
        Theme::Auto | Theme::Light => &LIGHT,
    };
    let mut css = format!(":root{{{}}}", variables(base));
    if theme == Theme::Auto {
        css.push_str(&format!(
            "@media (prefers-color-scheme:dark){{:root{{{}}}}}@media print{{:root{{{}}}}}",
            variables(&DARK),
            variables(&LIGHT)
        ));
    }
    css.push_str(concat!(
        ".p{fill:var(--sheet)}.f{stroke:var(--flow)}.r{stroke:var(--back)}.x{stroke:var(--faint)}.c{stroke:var(--sheet)}",
        ".o{fill:var(--sheet);stroke:var(--ink)}.i{fill:var(--ink);stroke:var(--ink)}.n{stroke:var(--ink)}",
        ".d{fill:var(--ink)}.af{fill:var(--flow)}.ar{fill:var(--back)}.b1{stroke:var(--edge)}.b2{stroke:var(--strip)}",
        "text{fill:var(--ink);font-variant-numeric:tabular-nums}.q{fill:var(--faint)}",
        ".mh{fill:var(--holds)}.mt{fill:var(--tight)}.mf{fill:var(--fails)}.ms{fill:var(--sheet)}",
        "[id]:target{outline:.5px solid var(--fails)}"
    ));
    css
}
