#include "departure_fit.hpp"

namespace validation
{

const std::vector<System>& systems()
{
  static const std::vector<System> all = {
      {"Cu-Zn", "brasses", {"Cu", "Zn"}, {"Zn"}, 0.045, {0.0, 0.15, 0.30, 0.50}, ""},
      {"Cu-Ni-Zn", "nickel silvers", {"Cu", "Ni", "Zn"}, {"Zn"}, 0.03, {0.0, 0.18, 0.30}, "12 to 18 % nickel"},
      {"Cu-Sn", "tin bronzes", {"Cu", "Sn"}, {"Sn"}, 0.03, {0.0, 0.09, 0.20, 0.40}, "phosphorus as Cu3P"},
      {"Cu-Ni", "cupronickels", {"Cu", "Ni"}, {"Ni"}, 0.025, {0.0, 0.30, 0.70}, ""},
      {"Cu-Ni-Sn", "copper-nickel-tin", {"Cu", "Ni", "Sn"}, {"Sn"}, 0.02, {0.0, 0.023, 0.08}, ""},
      {"Cu-Al", "aluminium bronzes", {"Cu", "Al"}, {"Al"}, 0.05, {0.0, 0.08, 0.15}, ""},
      {"Cu-Be", "beryllium coppers", {"Cu", "Be"}, {"Be"}, 0.03, {0.0, 0.02}, ""},
      {"Ag-Cu", "silver-copper", {"Ag", "Cu"}, {"Cu"}, 0.01, {0.0, 0.30}, "no primary measured series was at hand"},
      {"Ag-Cu-Zn", "silver brazes", {"Ag", "Cu", "Zn"}, {"Zn", "Sn"}, 0.03, {0.0, 0.20, 0.35}, "printed to 0.1"},
      {"Ag-Cu-Zn-Cd", "cadmium brazes", {"Ag", "Cu", "Zn", "Cd"}, {"Zn", "Cd"}, 0.03, {0.0, 0.42}, ""},
      {"Au-Cu", "gold-copper", {"Au", "Cu"}, {"Cu"}, 0.01, {0.0, 0.25, 0.50}, ""},
      {"Au-Ag",
       "gold-silver",
       {"Au", "Ag"},
       {"Ag"},
       0.01,
       {0.0, 0.50},
       "only a summary of eight measured rows was seen: +0.2 % on the mean, scatter 0.4 %"},
      {"Pt-Rh", "platinum-rhodium", {"Pt", "Rh"}, {"Rh"}, 0.005, {0.0, 0.10}, ""},
      {"Pt-Ir", "platinum-iridium", {"Pt", "Ir"}, {"Ir"}, 0.005, {0.0, 0.10}, ""},
      {"Sn-Pb", "lead-tin", {"Sn", "Pb"}, {"Pb"}, 0.025, {0.0, 0.50, 0.95}, ""},
      {"Pb-Sb", "hard leads", {"Pb", "Sb"}, {"Sb"}, 0.01, {0.0, 0.10}, ""},
      {"Sn-Ag-Cu", "lead-free solders", {"Sn"}, {"Ag", "Cu"}, 0.01, {0.0, 0.05, 0.10}, ""},
      {"Zn-Al", "zinc castings", {"Zn", "Al"}, {"Al"}, 0.03, {0.0, 0.04, 0.12}, "castings: pores are in it"},
      {"Al-Cu", "aluminium-copper", {"Al", "Cu"}, {"Cu"}, 0.03, {0.0, 0.05}, ""},
      {"Ni-Cr", "nickel-chromium", {"Ni", "Cr"}, {"Cr"}, 0.02, {0.0, 0.20}, ""},
      {"Fe-Ni", "iron-nickel", {"Fe", "Ni"}, {"Ni"}, 0.01, {0.0, 0.46}, ""},
      {"Fe-Ni-Co", "sealing alloys", {"Fe", "Ni", "Co"}, {"Ni", "Co"}, 0.01, {0.0, 0.47}, ""},
      {"Fe-Cr-Ni", "austenitic stainless steels", {"Fe", "Cr", "Ni"}, {"Cr", "Ni"}, 0.05, {0.0, 0.30}, ""},
      {"Fe-Cr", "ferritic stainless steels", {"Fe", "Cr"}, {"Cr"}, 0.02, {0.0, 0.18}, ""},
      {"Ti-Al-V", "titanium 6Al-4V", {"Ti", "Al", "V"}, {"Al", "V"}, 0.01, {0.0, 0.11}, ""},
  };
  return all;
}

const std::vector<ProcessWays>& processes()
{
  static const std::vector<ProcessWays> all = {
      {"infiltrated", "a sintered skeleton soaked with molten silver or copper"},
      {"wrought", "sintered or internally oxidised, then extruded, rolled or drawn"},
      {"pressed-sintered-repressed", "powder pressed, sintered and pressed again"},
      {"liquid-phase-sintered", "sintered with a melt that closes the pores: hardmetals, heavy alloys"},
  };
  return all;
}

}  // namespace validation
