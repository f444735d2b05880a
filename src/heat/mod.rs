//! Heat: temperatures of zones over time and at rest.
mod curve;
mod ladder;
mod linear;
#[cfg(test)]
mod tests;
