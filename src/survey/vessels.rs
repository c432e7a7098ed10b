//! What a survey holds of vessels, cylinders and exchangers.

use super::{At, Fluid, ItemKind, Leg, Pump, Side};
use crate::diag::Span;
use crate::quantity::{Celsius, Kelvin, Kv, Volume};

/// `[vessel.NAME]`.
#[derive(Clone, Debug, PartialEq)]
pub struct Vessel {
    /// Its name; for a four-port vessel also a place: pairs from it are the secondary side.
    pub name: At<String>,
    /// Water content.
    pub water: Option<At<Volume>>,
    /// How it is joined.
    pub kind: VesselKind,
    /// Where its table stands.
    pub span: Span,
}

/// How a vessel is joined.
#[derive(Clone, Debug, PartialEq)]
pub enum VesselKind {
    /// In series on one pipe of a pair.
    Series {
        /// Name of the pair.
        on: At<String>,
        /// Which pipe.
        side: Side,
    },
    /// Four ports: the primary comes from `from` by `leg` (or by a pair that ends at the vessel's name).
    FourPort {
        /// Place it is fed from.
        from: Option<At<String>>,
        /// Leg from that place.
        leg: Option<At<Leg>>,
        /// Pump of the secondary side.
        pump: Option<Pump>,
    },
    /// Three ports: flow passes by a tee, return through the vessel.
    ThreePort {
        /// Place it is fed from.
        from: Option<At<String>>,
        /// Leg from that place.
        leg: Option<At<Leg>>,
        /// Pump of the secondary side.
        pump: Option<Pump>,
    },
}

/// `[cylinder.NAME]`.
#[derive(Clone, Debug, PartialEq)]
pub struct Cylinder {
    /// Its name.
    pub name: At<String>,
    /// Place where the diverter stands.
    pub from: At<String>,
    /// Leg from the diverter to the coil.
    pub leg: At<Leg>,
    /// The coil's loss.
    pub coil: At<ItemKind>,
    /// Coil surface, m².
    pub coil_area_m2: Option<At<f64>>,
    /// The diverter's kv.
    pub diverter: Option<At<Kv>>,
    /// Store, litres.
    pub water: Option<At<Volume>>,
    /// Store temperature.
    pub store: Option<At<Celsius>>,
    /// Flow temperature while it is heated.
    pub flow_temperature: Option<At<Celsius>>,
    /// Water in the coil.
    pub coil_water: Option<At<Volume>>,
    /// Unvented store.
    pub unvented: bool,
    /// Drop over the coil at the unit's full output.
    pub drop: Option<At<Kelvin>>,
}

/// `[exchanger.NAME]`: a plate between two circuits.
#[derive(Clone, Debug, PartialEq)]
pub struct Exchanger {
    /// Its name; pairs from it are the far circuit.
    pub name: At<String>,
    /// Place of the near circuit.
    pub from: Option<At<String>>,
    /// Leg from that place.
    pub leg: Option<At<Leg>>,
    /// Loss on the near side.
    pub near_loss: Option<At<ItemKind>>,
    /// Loss on the far side.
    pub far_loss: Option<At<ItemKind>>,
    /// Heat carried per kelvin of logarithmic difference, W/K.
    pub ua_w_k: Option<At<f64>>,
    /// Pump of the far circuit.
    pub pump: Option<Pump>,
    /// Fluid of the far circuit.
    pub fluid: Option<At<Fluid>>,
    /// Where its table stands.
    pub span: Span,
}
