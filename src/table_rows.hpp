#pragma once

#include "toml_row.hpp"

namespace bilancetta
{

// Each reads one kind of row; keys of other rows are looked up in what `tables` holds so far.
Source read_source(const TomlRow& row);
Constituent read_constituent(const TomlRow& row);
Departure read_departure(const Tables& tables, const TomlRow& row);
Process read_process(const TomlRow& row);
Material read_material(const Tables& tables, const TomlRow& row);
/// What stands twice would count twice. @throws Error (bad_table) always.
[[noreturn]] void refuse_repeated(const TomlRow& row, std::string_view field, std::string_view key);
/// A hollow piece has materials of one kind only.
inline constexpr std::string_view no_inner = "none";
BuildRow read_build(const Tables& tables, const TomlRow& row, Build build, const char* outer, std::string_view inner,
                    const char* amount);
Place read_place(const Tables& tables, const TomlRow& row);
BenchTest read_test(const Tables& tables, const TomlRow& row);
Claim read_claim(const Tables& tables, const TomlRow& row);
Caution read_caution(const Tables& tables, const TomlRow& row);

int constituent_index(const Tables& tables, const TomlRow& row, std::string_view field, std::string_view key);

}  // namespace bilancetta
