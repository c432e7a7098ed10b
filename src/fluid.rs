//! Properties of water and glycol by temperature.
