#include "ruled_out.hpp"

#include <fmt/core.h>

#include <algorithm>
#include <cmath>

namespace bilancetta
{

void add_ruled_out(const Tables& tables, const Piece& piece, Verdict& v)
{
  struct Family {
    double prior = 0.0, posterior = 0.0, best_prior = 0.0;
    int material = -1;
  };
  std::map<std::string, Family> families;
  const auto& members = *v.analysis.members;
  for (std::size_t i = 0; i < members.size(); ++i) {
    const Hypothesis& h = members[i]->hypothesis;
    if (h.kind != Kind::solid) {
      continue;
    }
    Family& family = families[tables.materials[h.outer_material].group];
    family.prior += v.background.prior[i];
    family.posterior += v.analysis.posterior[i];
    if (v.background.prior[i] > family.best_prior) {
      family.best_prior = v.background.prior[i];
      family.material = h.outer_material;
    }
  }
  const double read = reading_in_liquid_g(piece.weighing.readings);
  const Scale& scale = liquid_scale_of(piece.weighing);
  struct Expected {
    const Material* material;
    int commonness;  // in quarters of an octave: what is as common is named by how near it would have read
    double reading_g;
  };
  std::vector<Expected> out;
  for (const auto& [group, family] : families) {
    if (family.prior > 0.01 && family.posterior < 0.02 * family.prior) {
      const Material& material = tables.materials[family.material];
      out.push_back(
          {&material, static_cast<int>(std::lround(4.0 * std::log2(family.prior))),
           expected_reading_g(v.analysis, piece.weighing, typical_density_g_cm3(material, tables.constituents))});
    }
  }
  std::stable_sort(out.begin(), out.end(), [&](const Expected& a, const Expected& b) {
    return a.commonness != b.commonness ? a.commonness > b.commonness
                                        : std::abs(a.reading_g - read) < std::abs(b.reading_g - read);
  });
  const int decimals = decimals_shown(scale);
  for (std::size_t k = 0; k < std::min<std::size_t>(out.size(), 4); ++k) {
    const Material& material = *out[k].material;
    const double expected = out[k].reading_g;
    const bool weight_did_it = std::abs(expected - read) > 2.0 * scale.readability_g;
    if (!weight_did_it && piece.context.answers.given.empty()) {
      continue;
    }
    v.ruled_out.push_back(
        {material.key, weight_did_it
                           ? fmt::format("solid {} would have read {:.{}f} g, yours read {:.{}f} g", material.name,
                                         expected, decimals, read, decimals)
                           : fmt::format("solid {} would not have answered the tests like this", material.name)});
  }
}

}  // namespace bilancetta
