//! Pictures and picks of the crate as its users see it.

mod cameras;
mod kept_pictures;
mod lines;
mod picks;
mod pixels;
mod same_picture;
mod scenes;
mod surfaces;
