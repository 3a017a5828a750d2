//! What is proven, on a rig that lies or fails on demand.
