//! Camera, lens, matte box and what stands in it; the exposure ledger and the advisories.
