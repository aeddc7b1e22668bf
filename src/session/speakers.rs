//! The click from the computer's loudspeakers, through `cpal`.

use super::Click;
use super::burst::{Strike, sample};
use crate::exercise::Micros;
use cpal::traits::{DeviceTrait, HostTrait, StreamTrait};
use cpal::{FromSample, OutputCallbackInfo, SampleFormat, SizedSample, Stream, StreamConfig};
use crossbeam_channel::{Receiver, Sender, bounded};
use std::time::{Duration, Instant};

/// An open sound output.
pub struct Speakers {
    strikes: Sender<Order>,
    _stream: Stream,
}

/// What the sound thread is told.
enum Order {
    /// A click at this moment.
    Strike(Instant, bool),
    /// No more of those ordered.
    Stop,
}

/// Clicks that may wait: more than any count-in asks for ahead.
const WAITING: usize = 16;

/// Why there is no sound, in the system's words.
#[derive(Debug, thiserror::Error)]
#[error("{0}")]
pub struct NoSound(String);

impl From<cpal::Error> for NoSound {
    fn from(error: cpal::Error) -> NoSound {
        NoSound(error.to_string())
    }
}

impl Speakers {
    /// Opens the computer's usual output.
    pub fn open() -> Result<Speakers, NoSound> {
        if !has_sound() {
            return Err(NoSound("this computer has no sound output".into()));
        }
        let device = cpal::default_host().default_output_device();
        let device = device.ok_or_else(|| NoSound("this computer has no sound output".into()))?;
        let supported = device.default_output_config()?;
        let config = supported.config();
        let (strikes, orders) = bounded(WAITING);
        let stream = match supported.sample_format() {
            SampleFormat::F32 => start::<f32>(&device, config, orders),
            SampleFormat::I16 => start::<i16>(&device, config, orders),
            SampleFormat::U16 => start::<u16>(&device, config, orders),
            SampleFormat::I32 => start::<i32>(&device, config, orders),
            other => return Err(NoSound(format!("the sound output wants samples of the kind {other}"))),
        }?;
        stream.play()?;
        Ok(Speakers { strikes, _stream: stream })
    }
}

/// Whether asking for a device makes sense. Without any, ALSA's library writes lines of its own to the terminal.
fn has_sound() -> bool {
    if !cfg!(target_os = "linux") {
        return true;
    }
    let served = std::env::var_os("XDG_RUNTIME_DIR")
        .map(std::path::PathBuf::from)
        .is_some_and(|folder| ["pulse/native", "pipewire-0"].iter().any(|socket| folder.join(socket).exists()));
    served || std::env::var_os("PULSE_SERVER").is_some() || std::path::Path::new("/dev/snd").exists()
}

fn start<T: SizedSample + FromSample<f32>>(
    device: &cpal::Device,
    config: StreamConfig,
    orders: Receiver<Order>,
) -> Result<Stream, cpal::Error> {
    let rate = f64::from(config.sample_rate);
    let channels = usize::from(config.channels).max(1);
    let mut frame = 0_i64;
    let mut strikes: Vec<Strike> = Vec::with_capacity(2 * WAITING);
    let fill = move |data: &mut [T], info: &OutputCallbackInfo| {
        let stamp = info.timestamp();
        let delay = stamp.playback.checked_duration_since(stamp.callback).unwrap_or(Duration::ZERO);
        let heard = Instant::now() + delay;
        while let Ok(order) = orders.try_recv() {
            match order {
                Order::Stop => strikes.clear(),
                // What comes too late sounds at once.
                Order::Strike(at, accent) if strikes.len() < strikes.capacity() => {
                    let left = at.saturating_duration_since(heard).as_secs_f64();
                    strikes.push(Strike { frame: frame + (left * rate).round() as i64, accent });
                }
                Order::Strike(..) => {}
            }
        }
        for samples in data.chunks_mut(channels) {
            samples.fill(T::from_sample(sample(&strikes, frame, rate)));
            frame += 1;
        }
        strikes.retain(|strike| !strike.is_over(frame, rate));
    };
    // A click that stutters is heard; there is nobody to tell in this thread.
    device.build_output_stream(config, fill, |_| {}, None)
}

impl Click for Speakers {
    fn ahead(&mut self, left: Micros, accent: bool) {
        let left = Duration::from_micros(u64::try_from(left.0).unwrap_or(0));
        let _ = self.strikes.try_send(Order::Strike(Instant::now() + left, accent));
    }

    fn stop(&mut self) {
        let _ = self.strikes.try_send(Order::Stop);
    }
}
