#pragma once

#include <string>

#include "batch_row.hpp"
#include "ordered_work.hpp"

namespace bilancetta
{

/// Adds the rows of a chunk, whose `made` is a vector of optional JarRow; none for a row that could not be used.
void add_to(Jar& jar, const Chunk& chunk);

/// What is to be told of the whole jar, in the form that the options ask for.
/// @param finest  decimals of the file by which rows were read; all 0: by none
std::string summary_of(const BatchShared& shared, const Jar& jar, const FinestDecimals& finest);

}  // namespace bilancetta
