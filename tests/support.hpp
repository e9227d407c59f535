#pragma once

// What the tests share: catalogues of published cases, expected refusals, and a forward weighing.

#include <catch2/catch.hpp>

#include <map>
#include <string>
#include <vector>

#include "bilancetta/error.hpp"
#include "bilancetta/weighing.hpp"

namespace testing
{

/// One line of a catalogue: cells by column name.
class Row
{
 public:
  explicit Row(std::map<std::string, std::string> cells) : cells_(std::move(cells)) {}
  [[nodiscard]] const std::string& text(const std::string& column) const;
  [[nodiscard]] double number(const std::string& column) const;
  [[nodiscard]] double number_or(const std::string& column, double otherwise) const;
  [[nodiscard]] std::string all() const;

 private:
  std::map<std::string, std::string> cells_;
};

/// A CSV of tests/published; lines that begin with # are its notes. No cell holds a comma.
std::vector<Row> published(const std::string& file);

/// What a call was refused with; fails the test if it was not refused.
struct Refusal {
  bilancetta::ErrorCode code = bilancetta::ErrorCode::cannot_open;
  std::string message, field;
};
template <typename Call>
Refusal refusal_of(Call call)
{
  try {
    call();
  } catch (const bilancetta::Error& error) {
    return {error.code(), error.what(), error.where().field};
  }
  FAIL("it was not refused");
  return {};
}

bool contains(const std::string& text, const std::string& part);
/// On lines of their own.
std::string joined(const std::vector<std::string>& lines);

/// Ideal readings of a body, unrounded: D = (m - rho_a V) / k and B = (rho_l - rho_a) V / k, with
/// k = 1 - 0.0012/8.000 (OIML D 28:2004).
struct IdealReadings {
  double dry_g, displaced_g;
};
IdealReadings ideal_readings(double mass_g, double density_g_cm3, double liquid_g_cm3, double air_g_cm3);

/// A weighing with the cup of water on the pan.
bilancetta::Weighing rise_weighing(double dry_g, double rise_g, const bilancetta::Scale& scale);
/// A weighing with the piece hung from the balance.
bilancetta::Weighing submerged_weighing(double dry_g, double submerged_g, const bilancetta::Scale& scale);

/// The standard uncertainty that a line of the weighing's budget has, g/cm3; fails the test if there is no such line.
double budget_line(const bilancetta::Weighing& weighing, const std::string& cause);

/// The scale class of a name as it stands in the catalogue.
bilancetta::Scale scale_named(const std::string& name);

}  // namespace testing
