#pragma once

#include <cstddef>
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

/// Calls work(i) once for each i below `count`, on this thread and helpers, at most one a processor. What a call throws
/// is thrown here, one of them if several do, when all threads have ended.
/// @param threads  as for thread_count
void for_each_index(std::size_t count, int threads, const std::function<void(std::size_t)>& work);

}  // namespace bilancetta
