#include "typed_scale.hpp"

#include <fmt/core.h>

#include <charconv>
#include <cmath>
#include <optional>

#include "words.hpp"

namespace bilancetta
{

namespace
{

bool names_dry_scale(const PieceText& text)
{
  return !text[Field::scale].empty() || !text[Field::readability_g].empty();
}

bool is_multiple(double value, double step)
{
  constexpr double slack = 0.01;
  return std::abs(value / step - std::round(value / step)) <= slack;
}

// The first reading of a kind that its scale could not have shown, if there is one.
class Steps
{
 public:
  explicit Steps(double step_g) : step_g_(step_g) {}
  void see(const std::vector<double>& values)
  {
    for (const double value : values) {
      see(value);
    }
  }
  void see(const std::optional<double>& value)
  {
    if (value && !odd_g_ && !is_multiple(*value, step_g_)) {
      odd_g_ = value;
    }
  }
  void tell(const char* how, std::vector<std::string>& doubts) const
  {
    if (odd_g_) {
      doubts.push_back(
          fmt::format("{} g is no multiple of {} g, the step of the scale that was named: type what it shows, or {}.",
                      significant(*odd_g_, 9), significant(step_g_, 6), how));
    }
  }

 private:
  double step_g_;
  std::optional<double> odd_g_;
};

}  // namespace

std::vector<std::string> doubts_of_steps(const PieceText& text, const Weighing& weighing)
{
  constexpr const char* by_step = "give its step by --readability";
  std::vector<std::string> doubts;
  const Readings& r = weighing.readings;
  const bool dry_named = names_dry_scale(text) && weighing.scale.readability_g > 0.0;
  const bool two_scales = weighing.liquid_scale.has_value();
  if (dry_named) {
    Steps dry(weighing.scale.readability_g);
    dry.see(r.dry_g);
    dry.see(r.soaked_g);
    dry.tell(by_step, doubts);
  }
  if ((dry_named && doubts.empty()) || two_scales) {
    Steps wet(liquid_scale_of(weighing).readability_g);
    wet.see(r.rise_g);
    wet.see(r.submerged_g);
    for (const auto& value :
         {r.cup_before_g, r.cup_after_g, r.cup_resting_g, r.holder_g, r.bottle_full_g, r.bottle_with_piece_g}) {
      wet.see(value);
    }
    wet.tell(two_scales ? "name the other scale as it is" : by_step, doubts);
  }
  return doubts;
}

void doubt_points(const PieceText& text, PieceRead& read)
{
  constexpr int many = 2;  // judgement: a spreadsheet drops one zero of both readings now and then
  const int shown = decimals_shown(read.piece.weighing.scale);
  if (shown >= many && finest_decimals(text) == 0) {
    read.piece.doubts.push_back(fmt::format(
        "No weight of this row has a decimal point, but the scale shows {} decimals: is the point missing?", shown));
  }
}

void doubt_decimals(const PieceText& text, PieceRead& read)
{
  constexpr int far = 2;  // judgement: one zero is easily left out
  const int typed = finest_decimals(text);
  const int shown = decimals_shown(read.piece.weighing.scale);
  if (names_dry_scale(text) && typed <= shown - far) {
    read.piece.doubts.push_back(fmt::format(
        "The numbers have {} decimals, the scale that was named shows {}: type all that it shows, zeros too; "
        "if it shows no more, give its step by --readability.",
        typed == 0 ? "no" : fmt::format("{}", typed), shown));
  }
}

std::optional<double> named_step_g(const PieceText& text)
{
  const std::string& step = text[Field::readability_g];
  double step_g = 0.0;
  if (std::from_chars(step.data(), step.data() + step.size(), step_g).ec == std::errc{} && step_g > 0.0) {
    return step_g;
  }
  for (const ScaleClass known : scale_classes) {
    if (name_of(known) == lower_case(text[Field::scale])) {
      return scale_of(known).readability_g;
    }
  }
  return std::nullopt;
}

}  // namespace bilancetta
