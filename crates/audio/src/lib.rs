//! Sound devices: output, input, and anchors between the device's clock and the host's.
