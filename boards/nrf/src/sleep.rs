//! Between two deadlines the processor sleeps. What wakes it is an edge, a byte from the host, the supply's warning, or the timer.

use crate::{clock, inputs, supply};

/// Pulses are latched by interrupt; the logger is told of them this much later at most.
const PULSE_LATE_MS: u64 = 50;

/// Sleeps until there is something to do: at `next_wake_ms` or earlier. `host_waits`: something has come from the host.
pub fn sleep(looked_ms: u64, next_wake_ms: u64, host_waits: impl Fn() -> bool) {
    let latest_ms = next_wake_ms.min(looked_ms + clock::SLEEP_MAX_MS);
    loop {
        // Asked with interrupts held off: one that comes from here on stays pending and ends the sleep at once.
        cortex_m::interrupt::disable();
        let waiting = inputs::waiting();
        let wake_ms = if waiting.pulse { latest_ms.min(looked_ms + PULSE_LATE_MS) } else { latest_ms };
        let due = waiting.edge || host_waits() || supply::waiting() || !clock::wake_at(wake_ms);
        if !due {
            cortex_m::asm::wfi();
        }
        // SAFETY: no critical section is open here; interrupts were enabled above.
        unsafe { cortex_m::interrupt::enable() }
        if due {
            return;
        }
    }
}
