#pragma once

#include <functional>
#include <thread>
#include <vector>

namespace bilancetta
{

/// What a number of threads means where 0 stands for as many as the machine has processors.
int thread_count(int threads);

/// Threads that run work(0), work(1) ...: as many as wanted. Where the system does not start all of them, half of those
/// that it has started go on, at most one a processor, so that there is memory left for the work; maybe none. `work`
/// throws nothing.
std::vector<std::jthread> started_threads(int wanted, const std::function<void(int)>& work);

}  // namespace bilancetta
