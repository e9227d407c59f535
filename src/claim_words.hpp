#pragma once

#include <cstddef>
#include <string>
#include <vector>

#include "bilancetta/claim.hpp"

namespace bilancetta
{

/// The likeliest, but no family alone: at most so many of each.
std::vector<ClaimVerdict::LookAlike> shortened(std::vector<ClaimVerdict::LookAlike> all, std::size_t most,
                                               std::ptrdiff_t most_of_family);
/// That something which weighs the same is much likelier than a claim that is not refused, without a full stop; empty
/// if nothing is.
std::string likelier_words(const ClaimVerdict& verdict);
/// The verdict in whole sentences, neither a promise nor an accusation.
std::string because_of(const Tables& tables, const ClaimVerdict& verdict, const Piece& piece);
/// What would settle a claim that the weight leaves open, or proves nothing of.
std::string settled_by(const ClaimVerdict& verdict, const Context& context);

}  // namespace bilancetta
