//! What words exist: pipes, fittings, devices, emitters and limits as embedded data, each row with its source.
