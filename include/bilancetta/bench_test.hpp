#pragma once

#include <array>
#include <string>
#include <utility>
#include <vector>

#include "bilancetta/hypothesis.hpp"
#include "bilancetta/tables.hpp"

namespace bilancetta
{

/// What was seen at the bench. Answers are checked against the test's row.
struct Answers {
  std::vector<std::pair<std::string, std::string>> given;  ///< test key, answer (a number for conductivity)
  std::string reagent = "chromate";                        ///< chromate, nitric, other
  bool reagent_checked = false;                            ///< it was tried on a known piece
};

/// Adds one answer, by any accepted name of test and answer ("none" for no-pull or no-reaction, "red"
/// for copper). @throws Error (unknown_key, bad_option) for unknown names, a second answer to the
/// same test, or a conductivity outside 0.1 to 110 %IACS.
void add_answer(const Tables& tables, Answers& answers, const std::string& test, const std::string& answer);

/// Three facts without which a test misleads.
struct Facts {
  bool notch_through, reagent_works, skin_clean;
};
inline constexpr int fact_cases = 8;
/// A case of theirs, 0 to 7: bit 0 is set where the notch does not go through, bit 1 where the reagent does not work,
/// bit 2 where the skin is not clean.
constexpr Facts facts_of(int which)
{
  return {(which & 1) == 0, (which & 2) == 0, (which & 4) == 0};
}

/// Chance of a case of them before any answer. @param reagent_checked  as in Answers
double chance_of(Facts facts, const BenchFacts& chances, bool reagent_checked);

/// What one answer says of every material and build, looked up once.
class AnswerOdds
{
 public:
  AnswerOdds(const Tables& tables, const BenchTest& test, const std::string& answer, const std::string& reagent);
  /// P(answer | hypothesis and the three facts). A coat hides the core from a test of the skin and not
  /// from a notch that goes through; a notch in the face of an inlay shows the face; the back of an
  /// inlay is its carrier, unless that is faced on both sides; a magnetic coat pulls weakly; for the open mix every
  /// answer is equally likely.
  [[nodiscard]] double probability(const Hypothesis& hypothesis, Facts facts) const;
  /// The facts that it depends on, a bit each as in facts_of.
  [[nodiscard]] int asks_of_facts() const;
  /// The material that shows there and is not hidden by dirt or a dead drop, as an index into Tables::materials; -1 if
  /// no one material answers. What the open mix shows is not known.
  [[nodiscard]] int metal_seen(const Hypothesis& hypothesis, Facts facts) const;
  /// Whether both ask for the same property, such as what a drop does.
  [[nodiscard]] bool asks_the_same(const AnswerOdds& other) const;
  [[nodiscard]] bool answers_the_same(const AnswerOdds& other) const { return answer_ == other.answer_; }

 private:
  [[nodiscard]] bool shows_inner(const Hypothesis& hypothesis, bool notch_through) const;
  const Tables* tables_;
  const BenchTest* test_;
  std::string answer_;
  bool of_magnet_ = false, of_back_ = false;
  bool deep_ = false;          ///< goes through a coat, if the notch does
  bool of_one_metal_ = false;  ///< what answers is one of the materials
  double ln_reading_ = 0.0, flat_ = 1.0;
  double weak_ = 1.0;                  ///< of a weak magnetic pull
  double dead_ = -1.0, dirty_ = -1.0;  ///< below 0: does not apply
  std::vector<double> clean_;          ///< by material
  std::vector<int> rank_;              ///< by material, of the magnet
  std::array<double, 4> by_build_{};
  double both_faces_ = 1.0;  ///< of an inlay faced on both sides
};

/// How much likelier answers are together than one by one, given the hypothesis and the three facts. Two drops on one
/// metal turn the same colour more often than its chances say, for they fall on the same alloy and are named by the
/// same eye: with the chance `one_answer_for_a_metal` tests of one property show one answer there, whose chance is the
/// geometric mean of theirs.
double agreement_of(const Tables& tables, const std::vector<AnswerOdds>& given, const Hypothesis& hypothesis,
                    Facts facts);

/// P(answers | hypothesis): answers are independent given the hypothesis and three yes/no facts (the
/// notch went through the coat, the reagent works, the skin is clean) but for their agreement, summed over the eight
/// cases.
class BenchOdds
{
 public:
  BenchOdds(const Tables& tables, const Answers& answers);
  void add(AnswerOdds odds) { odds_.push_back(std::move(odds)); }
  [[nodiscard]] double likelihood(const Hypothesis& hypothesis) const;

 private:
  const Tables* tables_;
  bool reagent_checked_;
  std::vector<AnswerOdds> odds_;
};

/// What to do for a test, the drop named as it is: `reagent` as in Answers.
std::string step_of(const BenchTest& test, const std::string& reagent);
/// Does it take metal off with a file, and so make dust?
bool files(const BenchTest& test);
/// Is it a drop of reagent or acid?
bool is_drop(const BenchTest& test);
/// Has a piece of this volume room for it? A meter's probe stands on a flat of some 8 mm: a disc of 2 mm is then 0.1
/// cm3 (common practice, no source).
bool has_room_for(const BenchTest& test, double volume_cm3);
/// Answers a test may have when it is proposed; for conductivity readings even in the logarithm, all alike in width.
std::vector<std::string> possible_answers(const BenchTest& test);

}  // namespace bilancetta
