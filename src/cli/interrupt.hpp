#pragma once

#include <atomic>

/// From here on SIGINT and SIGTERM ask the program to stop instead of ending it; a second one ends it at once.
void catch_interrupts();
/// True once the program has been asked to stop.
const std::atomic<bool>& interrupted();
/// The signal, or 0.
int interrupt_signal();
/// A file descriptor that becomes readable with the first signal, or -1.
int interrupt_descriptor();
