//! A radial distribution as a sum of Gaussians: the form that the production kernels run.

/// One round Gaussian.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Gaussian {
    /// Its share of the light.
    pub weight: f64,
    /// Its standard deviation along either axis; the unit is the user's (radians or pixels).
    pub sigma: f64,
}

/// `direct·δ + Σ weight·G(sigma) + veil·mean`, for one channel.
#[derive(Debug, Clone, PartialEq, Default)]
pub struct Mixture {
    /// Share of the light that goes straight on.
    pub direct: f64,
    /// The scattered light, narrowest first.
    pub gaussians: Vec<Gaussian>,
    /// Share spread evenly over the frame.
    pub veil: f64,
}
