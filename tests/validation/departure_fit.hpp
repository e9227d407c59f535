#pragma once

// The fit behind tables/departures.toml: departures from mixing as piecewise linear functions, pores by process.

#include <functional>
#include <string>
#include <vector>

#include "alloy_rows.hpp"

namespace validation
{

/// What a system is: who belongs to it and where its function has knots (judgement; few, where rows stand).
struct System {
  const char* key;
  const char* name;
  std::vector<const char*> constituents, solutes;
  double others;
  std::vector<double> knots;  ///< mass fraction of the solutes; the first is 0
  const char* note;
};
const std::vector<System>& systems();

struct SystemFit {
  const System* system = nullptr;
  std::vector<double> values;               ///< departure at each knot
  std::vector<std::vector<double>> spread;  ///< covariance of the values
  double scatter = 0.0;
  double freedom = 0.0;  ///< degrees of freedom of the scatter
  int rows = 0;
  std::vector<std::string> sources;
};

struct ProcessWays {
  const char* key;
  const char* name;
};
const std::vector<ProcessWays>& processes();

struct ProcessFit {
  double typical = 0.0, high = 0.0;  ///< volume share of pores; low is 0
  double scatter = 0.0;
  int rows = 0;
  std::vector<std::string> sources;
};

using Chooser = std::function<bool(const AlloyRow&)>;
SystemFit fit_system(const bilancetta::Tables& tables, const System& system, const std::vector<AlloyRow>& rows,
                     const Chooser& use);
ProcessFit fit_process(const std::vector<AlloyRow>& rows, const std::string& process, const Chooser& use);

/// A row's density and 95 % band from the rows that `use` lets in.
struct Prediction {
  double density = 0.0, low = 0.0, high = 0.0;
};
Prediction predict(const bilancetta::Tables& tables, const std::vector<AlloyRow>& rows, const AlloyRow& row,
                   const Chooser& use);

}  // namespace validation
