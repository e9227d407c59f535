# Writes OUT, a C++ source with the text of every table in FILES.
set(rows "")
foreach(file IN LISTS FILES)
  get_filename_component(name "${file}" NAME)
  file(READ "${file}" text)
  string(APPEND rows "    {\"${name}\", R\"~table~(${text})~table~\"},\n")
endforeach()
file(WRITE "${OUT}" "// Generated from tables/*.toml.\n#include \"table_reader.hpp\"\n\nnamespace bilancetta {\n\n"
  "std::vector<TableText> embedded_tables()\n{\n  return {\n${rows}  };\n}\n\n}  // namespace bilancetta\n")
