//! A finished picture on its way to the screen: one texture, one triangle, no blending by egui.

use std::sync::{Arc, Mutex, PoisonError};

use eframe::egui_wgpu::{self, CallbackResources, CallbackTrait, RenderState, ScreenDescriptor};
use eframe::wgpu;

/// Pixels of a picture, rows from the top, 4 bytes a pixel.
#[derive(Clone, Debug, Default)]
pub struct Pixels {
    /// Pixels across.
    pub width: u32,
    /// Pixels down.
    pub height: u32,
    /// Red, green, blue, 255.
    pub rgba: Vec<u8>,
    /// Grows with every new picture.
    pub version: u64,
}

/// A place on the screen that shows pictures.
#[derive(Clone)]
pub struct Screen {
    slot: usize,
    pixels: Arc<Mutex<Pixels>>,
}

/// What all screens share: the pipeline, and a texture each.
struct Resources {
    pipeline: wgpu::RenderPipeline,
    layout: wgpu::BindGroupLayout,
    slots: Vec<Option<Slot>>,
}

struct Slot {
    texture: wgpu::Texture,
    bind: wgpu::BindGroup,
    size: [u32; 2],
    version: u64,
}

const SHADER: &str = r"
struct V { @builtin(position) at: vec4<f32>, @location(0) @interpolate(flat) corner: vec2<i32> };
@group(0) @binding(0) var t: texture_2d<f32>;
@vertex fn vs(@builtin(vertex_index) i: u32, @builtin(instance_index) packed: u32) -> V {
    let p = vec2<f32>(f32((i << 1u) & 2u), f32(i & 2u));
    var v: V;
    v.at = vec4<f32>(p.x * 2.0 - 1.0, 1.0 - p.y * 2.0, 0.0, 1.0);
    v.corner = vec2<i32>(i32(packed >> 16u), i32(packed & 0xffffu)) - vec2<i32>(32768);
    return v;
}
@fragment fn fs(v: V) -> @location(0) vec4<f32> {
    let size = vec2<i32>(textureDimensions(t));
    let at = clamp(vec2<i32>(floor(v.at.xy)) - v.corner, vec2<i32>(0), size - vec2<i32>(1));
    return textureLoad(t, at, 0);
}
";

/// Prepares a renderer; once, when the window is made.
pub fn install(state: &RenderState) {
    let device = &state.device;
    let layout = device.create_bind_group_layout(&wgpu::BindGroupLayoutDescriptor {
        label: Some("picture"),
        entries: &[wgpu::BindGroupLayoutEntry {
            binding: 0,
            visibility: wgpu::ShaderStages::FRAGMENT,
            ty: wgpu::BindingType::Texture {
                sample_type: wgpu::TextureSampleType::Float { filterable: false },
                view_dimension: wgpu::TextureViewDimension::D2,
                multisampled: false,
            },
            count: None,
        }],
    });
    let module = device.create_shader_module(wgpu::ShaderModuleDescriptor {
        label: Some("picture"),
        source: wgpu::ShaderSource::Wgsl(SHADER.into()),
    });
    let pipeline_layout = device.create_pipeline_layout(&wgpu::PipelineLayoutDescriptor {
        label: Some("picture"),
        bind_group_layouts: &[Some(&layout)],
        immediate_size: 0,
    });
    let pipeline = device.create_render_pipeline(&wgpu::RenderPipelineDescriptor {
        label: Some("picture"),
        layout: Some(&pipeline_layout),
        vertex: wgpu::VertexState {
            module: &module,
            entry_point: Some("vs"),
            compilation_options: wgpu::PipelineCompilationOptions::default(),
            buffers: &[],
        },
        primitive: wgpu::PrimitiveState::default(),
        depth_stencil: None,
        multisample: wgpu::MultisampleState::default(),
        fragment: Some(wgpu::FragmentState {
            module: &module,
            entry_point: Some("fs"),
            compilation_options: wgpu::PipelineCompilationOptions::default(),
            targets: &[Some(state.target_format.into())],
        }),
        multiview_mask: None,
        cache: None,
    });
    state.renderer.write().callback_resources.insert(Resources {
        pipeline,
        layout,
        slots: Vec::new(),
    });
}

impl Screen {
    /// The screen of a number; each number has its own texture.
    pub fn new(slot: usize) -> Self {
        Self {
            slot,
            pixels: Arc::default(),
        }
    }

    /// Puts a picture up.
    pub fn put(&self, width: u32, height: u32, rgba: &[u8]) {
        let mut pixels = self.pixels.lock().unwrap_or_else(PoisonError::into_inner);
        pixels.width = width;
        pixels.height = height;
        pixels.rgba.clear();
        pixels.rgba.extend_from_slice(rgba);
        pixels.version += 1;
    }

    /// The latest picture, for those who look without a screen.
    pub fn pixels(&self) -> Pixels {
        self.pixels
            .lock()
            .unwrap_or_else(PoisonError::into_inner)
            .clone()
    }

    /// A shape that shows the picture in `rect`.
    pub fn shape(&self, rect: egui::Rect) -> egui::Shape {
        egui_wgpu::Callback::new_paint_callback(rect, self.clone()).into()
    }
}

impl CallbackTrait for Screen {
    fn prepare(
        &self,
        device: &wgpu::Device,
        queue: &wgpu::Queue,
        _: &ScreenDescriptor,
        _: &mut wgpu::CommandEncoder,
        resources: &mut CallbackResources,
    ) -> Vec<wgpu::CommandBuffer> {
        let pixels = self.pixels.lock().unwrap_or_else(PoisonError::into_inner);
        let Some(resources) = resources.get_mut::<Resources>() else {
            return Vec::new();
        };
        if pixels.width == 0 || pixels.height == 0 {
            return Vec::new();
        }
        if resources.slots.len() <= self.slot {
            resources.slots.resize_with(self.slot + 1, || None);
        }
        let size = [pixels.width, pixels.height];
        if resources.slots[self.slot]
            .as_ref()
            .is_none_or(|s| s.size != size)
        {
            resources.slots[self.slot] = Some(new_slot(device, &resources.layout, size));
        }
        if let Some(slot) = &mut resources.slots[self.slot]
            && slot.version != pixels.version
        {
            slot.version = pixels.version;
            queue.write_texture(
                slot.texture.as_image_copy(),
                &pixels.rgba,
                wgpu::TexelCopyBufferLayout {
                    offset: 0,
                    bytes_per_row: Some(4 * pixels.width),
                    rows_per_image: Some(pixels.height),
                },
                wgpu::Extent3d {
                    width: pixels.width,
                    height: pixels.height,
                    depth_or_array_layers: 1,
                },
            );
        }
        Vec::new()
    }

    fn paint(
        &self,
        info: egui::PaintCallbackInfo,
        pass: &mut wgpu::RenderPass<'static>,
        resources: &CallbackResources,
    ) {
        let Some(resources) = resources.get::<Resources>() else {
            return;
        };
        if let Some(Some(slot)) = resources.slots.get(self.slot) {
            pass.set_pipeline(&resources.pipeline);
            pass.set_bind_group(0, &slot.bind, &[]);
            // What is drawn into is cut to the screen: pixels are counted from the corner of the whole picture, which may
            // lie outside.
            let corner = info.viewport.min * info.pixels_per_point;
            let packed = packed([corner.x, corner.y]);
            pass.draw(0..3, packed..packed + 1);
        }
    }
}

/// A corner in whole pixels of the screen, from -32768 on, in one number.
fn packed(corner: [f32; 2]) -> u32 {
    let [x, y] = corner.map(|v| (v.round() + 32768.0).clamp(0.0, 65535.0) as u32);
    (x << 16) | y.min(65534)
}

fn new_slot(device: &wgpu::Device, layout: &wgpu::BindGroupLayout, size: [u32; 2]) -> Slot {
    let texture = device.create_texture(&wgpu::TextureDescriptor {
        label: Some("picture"),
        size: wgpu::Extent3d {
            width: size[0],
            height: size[1],
            depth_or_array_layers: 1,
        },
        mip_level_count: 1,
        sample_count: 1,
        dimension: wgpu::TextureDimension::D2,
        // Bytes as they are: the target takes them without another colour space between.
        format: wgpu::TextureFormat::Rgba8Unorm,
        usage: wgpu::TextureUsages::TEXTURE_BINDING | wgpu::TextureUsages::COPY_DST,
        view_formats: &[],
    });
    let view = texture.create_view(&wgpu::TextureViewDescriptor::default());
    let bind = device.create_bind_group(&wgpu::BindGroupDescriptor {
        label: Some("picture"),
        layout,
        entries: &[wgpu::BindGroupEntry {
            binding: 0,
            resource: wgpu::BindingResource::TextureView(&view),
        }],
    });
    Slot {
        texture,
        bind,
        size,
        version: 0,
    }
}

#[cfg(test)]
mod tests {
    use super::packed;

    #[test]
    fn corners_outside_the_screen_are_kept() {
        let back = |p: u32| [i64::from(p >> 16) - 32768, i64::from(p & 0xffff) - 32768];
        for corner in [[0.0, 0.0], [12.4, 700.6], [-350.0, -2.0], [1919.0, 1079.0]] {
            assert_eq!(back(packed(corner)), corner.map(|v: f32| v.round() as i64));
        }
    }
}
