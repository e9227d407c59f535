#pragma once

#include <array>
#include <memory>
#include <mutex>
#include <string>
#include <vector>

#include "bilancetta/bench_test.hpp"
#include "bilancetta/members.hpp"

namespace bilancetta
{

/// All hypotheses of some tables, tabulated once and then only read. Coated hypotheses depend on the
/// piece's size and are tabulated at volumes four times apart (0.001 to 16 cm3), each when first asked for.
class Prepared
{
 public:
  static constexpr int size_classes = 8;
  /// All size classes (for batches), or only that of one piece, exactly at its size. @param threads  most that
  /// tabulate, the caller's own among them; 0: as many as the machine has. Where the system starts fewer, fewer do.
  explicit Prepared(const Tables& tables, Member::Serves serves = Member::Serves::both, int threads = 0);
  Prepared(const Tables& tables, const PieceSize& size, int threads = 0);
  Prepared(const Prepared&) = delete;
  Prepared(Prepared&&) = default;

  [[nodiscard]] const Tables& tables() const { return *tables_; }
  /// The members for a piece of this volume; their order is the same for every volume.
  [[nodiscard]] const Members& members(double volume_cm3) const;
  /// The same members for what asks only which there are: the coated ones among them are not tabulated.
  [[nodiscard]] const Members& members_of_any_size() const { return any_size_; }

 private:
  void prepare_uncoated(const PieceSize& size);
  [[nodiscard]] std::vector<Hypothesis> coated_hypotheses(const PieceSize& size) const;
  void prepare_coated(int size_class, const PieceSize& size) const;
  const Tables* tables_;
  Member::Serves serves_;
  int threads_ = 0;
  bool one_size_ = false;
  // Neither moves once made: `Members` point into them.
  std::unique_ptr<MemberGroup> uncoated_, coated_untabulated_;
  Members any_size_;
  // Size classes are filled when first asked for.
  std::unique_ptr<std::array<MemberGroup, size_classes>> coated_;
  std::unique_ptr<std::array<Members, size_classes>> members_;
  std::unique_ptr<std::array<std::once_flag, size_classes>> once_;
};

/// What is known besides the weight.
struct Context {
  std::string place = "unknown";  ///< key of a Place
  Form form = Form::solid;
  bool even_odds = false;  ///< ignore where it was found and what is common
  Answers answers;
  /// Known to be hollow or filled: its weight says little of its metal.
  [[nodiscard]] bool is_hollow_ware() const { return form == Form::hollow || form == Form::filled; }
};

/// The same for contexts that say the same.
std::string key_of(const Context& context);

/// Prior mass of each member: builds by place, families within builds (the material's group; of a
/// layered piece the pair of groups, their weights multiplied with that of the pairing), rows within families by how
/// common each is; adding a row moves neither P(build) nor P(family). Form `solid` leaves hollow pieces out, `hollow`
/// and `filled` keep only those and the open mix. With even odds every material is alike as the body of the piece, and
/// a body alike bare, coated, faced or hollow. Sums to 1. @throws Error (unknown_key).
std::vector<double> prior_of(const Tables& tables, const Members& members, const Context& context);

/// The curve as Members::evidence takes it.
LevelWeights evidence_weights_of(const DensityCurve& curve);

/// Normalised prior x evidence x test; all 0 if nothing has any.
std::vector<double> posterior_of(const std::vector<double>& prior, const std::vector<double>& evidence,
                                 const std::vector<double>& test_likelihood);

/// Indices of members by falling probability, until this much of it is covered; empty if nothing has any.
std::vector<int> likeliest_of(const std::vector<double>& posterior, double coverage);
/// The same members, the likeliest first and the others in no order: rows have no need to sort them.
std::vector<int> fewest_covering(const std::vector<double>& posterior, double coverage);

}  // namespace bilancetta
