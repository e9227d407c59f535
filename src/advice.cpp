#include <fmt/core.h>

#include <algorithm>

#include "sentence.hpp"

namespace bilancetta
{

namespace
{

// What to type once a test is made.
std::string how_to_give(const Tables& tables, const std::string& key)
{
  const BenchTest& test = test_called(tables, key);
  std::string answers;
  for (const std::string& answer : test.answers) {
    answers += (answers.empty() ? "" : answer == test.answers.back() ? " or " : ", ") + answer;
  }
  return fmt::format(" Then add --test {}={}.", key, answers.empty() ? "NUMBER" : answers);
}

std::string care_of(const Tables& tables, const Piece& piece, const NextTest& step)
{
  return step.is_weighing ? ""
                          : care_of_step(tables, test_called(tables, step.key), piece.context.answers.reagent,
                                         step.caution() == "cadmium");
}

}  // namespace

std::vector<std::string> cautions_of_step(const BenchTest& test, const std::string& reagent, bool may_hold_cadmium)
{
  std::vector<std::string> keys = cautions_of_test(test, reagent);
  std::stable_partition(keys.begin(), keys.end(), [](const std::string& key) { return key == "chromium-vi"; });
  if (may_hold_cadmium && (files(test) || is_drop(test))) {
    keys.insert(keys.begin(), "cadmium");
  }
  return keys;
}

std::string care_of_step(const Tables& tables, const BenchTest& test, const std::string& reagent, bool may_hold_cadmium,
                         const std::vector<std::string>& said)
{
  std::string text;
  if (may_hold_cadmium && (files(test) || is_drop(test))) {
    text += files(test)
                ? " Care: what the file takes off may hold cadmium: one stroke by hand, wet, over a damp cloth; "
                  "do not blow, and wash your hands."
                : " Care: what the drop takes off may hold cadmium: rinse and wipes are waste of that too.";
  }
  for (const std::string& key : cautions_of_test(test, reagent)) {
    const int caution = find_caution(tables, key);
    const bool is_said = std::find(said.begin(), said.end(), key) != said.end();
    text += caution < 0 || is_said ? "" : " Care: " + tables.cautions[caution].text;
  }
  return text;
}

std::string_view words_of(Question question)
{
  constexpr std::string_view words[] = {"how it is made", "whether it holds silver", "whether it holds cadmium",
                                        "whether it holds gold, palladium or platinum", "whether the claim holds"};
  return words[static_cast<int>(question)];
}

std::string settling_words(const ClaimVerdict& claim)
{
  return "What would settle it: " + claim.would_settle + ".";
}

bool may_be_sealed_mercury(const Verdict& v)
{
  return v.background.hollow && std::any_of(v.cautions.begin(), v.cautions.end(),
                                            [](const CautionShown& caution) { return caution.key == "mercury"; });
}

std::string one_thing_of(const Tables& tables, const Piece& piece, bool may_mark, const Verdict& v)
{
  if (no_metal_weighs_so(v.analysis)) {
    return std::string(tare_again_words);
  }
  if (rests_on_the_bottom(piece.weighing)) {
    return "Hang it on a thread, clear of the bottom and the walls, and weigh again.";
  }
  const StepLimits limits = limits_of(v.cautions);
  if (!limits.wets || may_be_sealed_mercury(v) || (v.next.empty() && warns_of(v.cautions, "mercury"))) {
    return "Look whether it is glass, rattles or holds a bright drop that moves, or is a grey tooth filling: then it "
           "holds mercury. Do not wet, open, rub or file it; bag it for the collection point that your local rules "
           "name.";
  }
  if (v.background.hollow) {
    return std::string("Look for the maker's and fineness marks and for seams") +
           (may_mark ? ", and test the metal itself at a place where it is thick" : "") +
           ". A foot or handle may be weighted with lead, pitch or plaster: it is neither heated nor cut open to find "
           "out.";
  }
  if (!v.analysis.explained) {
    const auto test =
        std::find_if(v.next.begin(), v.next.end(), [](const NextTest& step) { return !step.is_weighing; });
    return "Weigh it once more, with no bubbles on it (in water a drop of soap helps), and check the tare." +
           (test == v.next.end()
                ? ""
                : " If it stays so: " + test->step + how_to_give(tables, test->key) + care_of(tables, piece, *test));
  }
  if (is_rough(v.analysis.density) && repeats_disagree(piece.weighing)) {
    return "Weigh it again, dry and in the liquid: its readings lie too far apart to be those of one piece.";
  }
  if (must_be_pooled(v.analysis, piece)) {
    const int pool = pieces_to_pool(v.analysis, piece.weighing);
    return fmt::format("Weigh about {} like pieces together (--count {}): this scale is too coarse for {}.", pool, pool,
                       piece.weighing.count == 1 ? "one" : "so few");
  }
  if (v.next.empty()) {
    return !v.conflicts.empty() ? limits.files ? "Try again what contradicts the rest."
                                               : "Weigh it once more; what files or dissolves is not to be repeated."
           : v.claim && v.claim->result != ClaimResult::consistent ? settling_words(*v.claim)
           : std::any_of(v.cautions.begin(), v.cautions.end(),
                         [](const CautionShown& c) { return c.urgency == Urgency::stop; })
               ? "No test that is safe to make at the bench would change this much. Leave the rest to a licensed "
                 "refiner or laboratory, and tell them of the hazard."
               : "No test at the bench would change this much; an assay would.";
  }
  const NextTest& best = v.next.front();
  const std::string_view help = help_of(best);
  return fmt::format("{}{} ({} {}.){}", best.step, best.is_weighing ? "" : how_to_give(tables, best.key),
                     help == "settles it"         ? "It should settle"
                     : help == "halves the doubt" ? "It should halve the doubt about"
                                                  : "It helps a little to tell",
                     words_of(v.asked), care_of(tables, piece, best));
}

}  // namespace bilancetta
