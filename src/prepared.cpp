#include <algorithm>
#include <cmath>
#include <mutex>

#include "bilancetta/posterior.hpp"
#include "started_threads.hpp"

namespace bilancetta
{

namespace
{

double class_volume_cm3(int size_class)
{
  return 0.001 * std::pow(4.0, size_class);
}

int class_of(double volume_cm3)
{
  const int nearest = static_cast<int>(std::lround(std::log(std::max(volume_cm3, 1e-6) / 0.001) / std::log(4.0)));
  return std::clamp(nearest, 0, Prepared::size_classes - 1);
}

// Tabulating takes most of a start: this thread and helpers share it.
MemberGroup group_of(const Tables& tables, const std::vector<Hypothesis>& hypotheses, Member::Serves serves,
                     int threads)
{
  std::vector<Member> members(hypotheses.size());
  std::vector<Pyramid> predicted(hypotheses.size());
  for_each_index(hypotheses.size(), threads, [&](std::size_t i) {
    members[i] = member_of(tables, hypotheses[i], serves);
    predicted[i] = Pyramid(members[i].predicted);
  });
  return {std::move(members), predicted};
}

}  // namespace

Prepared::Prepared(const Tables& tables, Member::Serves serves, int threads)
    : tables_(&tables),
      serves_(serves),
      threads_(threads),
      coated_(std::make_unique<std::array<MemberGroup, size_classes>>()),
      members_(std::make_unique<std::array<Members, size_classes>>()),
      once_(std::make_unique<std::array<std::once_flag, size_classes>>())
{
  prepare_uncoated({});
  std::vector<Member> coated;
  for (const Hypothesis& hypothesis : coated_hypotheses({})) {
    coated.push_back(untabulated_member_of(tables, hypothesis));
  }
  coated_untabulated_ = std::make_unique<MemberGroup>();
  coated_untabulated_->members = std::move(coated);
  any_size_ = Members({uncoated_.get(), coated_untabulated_.get()});
}

Prepared::Prepared(const Tables& tables, const PieceSize& size, int threads)
    : tables_(&tables),
      serves_(Member::Serves::verdicts),
      threads_(threads),
      one_size_(true),
      coated_(std::make_unique<std::array<MemberGroup, size_classes>>()),
      members_(std::make_unique<std::array<Members, size_classes>>())
{
  prepare_uncoated(size);
  prepare_coated(0, size);
  any_size_ = (*members_)[0];
}

void Prepared::prepare_uncoated(const PieceSize& size)
{
  std::vector<Hypothesis> hypotheses = {open_mix_hypothesis(*tables_)};  // the longest first
  const int materials = static_cast<int>(tables_->materials.size());
  for (int m = 0; m < materials; ++m) {
    hypotheses.push_back(solid_hypothesis(*tables_, m));
  }
  for (int row = 0; row < static_cast<int>(tables_->builds.size()); ++row) {
    const BuildRow& build = tables_->builds[row];
    for (const int outer : build.outer) {
      if (build.inner.empty()) {
        hypotheses.push_back(hollow_hypothesis(*tables_, row, outer));
      }
      for (const int inner : build.inner) {
        if (build.build != Build::plated) {
          hypotheses.push_back(layered_hypothesis(*tables_, row, outer, inner, size));
        }
      }
    }
  }
  uncoated_ = std::make_unique<MemberGroup>(group_of(*tables_, hypotheses, serves_, threads_));
}

std::vector<Hypothesis> Prepared::coated_hypotheses(const PieceSize& size) const
{
  std::vector<Hypothesis> hypotheses;
  for (int row = 0; row < static_cast<int>(tables_->builds.size()); ++row) {
    const BuildRow& build = tables_->builds[row];
    if (build.build != Build::plated) {
      continue;
    }
    for (const int outer : build.outer) {
      for (const int inner : build.inner) {
        hypotheses.push_back(layered_hypothesis(*tables_, row, outer, inner, size));
      }
    }
  }
  return hypotheses;
}

void Prepared::prepare_coated(int size_class, const PieceSize& size) const
{
  MemberGroup& coated = (*coated_)[size_class];
  coated = group_of(*tables_, coated_hypotheses(size), serves_, threads_);
  (*members_)[size_class] = Members({uncoated_.get(), &coated});
}

const Members& Prepared::members(double volume_cm3) const
{
  if (one_size_) {
    return (*members_)[0];
  }
  const int size_class = class_of(volume_cm3);
  std::call_once((*once_)[size_class], [&] { prepare_coated(size_class, {class_volume_cm3(size_class), {}}); });
  return (*members_)[size_class];
}

}  // namespace bilancetta
