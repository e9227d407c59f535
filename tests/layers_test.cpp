// The shape of the source tree: what may include what, and how long a file may be.

#include <algorithm>
#include <filesystem>
#include <fstream>
#include <map>
#include <sstream>

#include "support.hpp"

namespace
{

namespace fs = std::filesystem;

struct SourceFile {
  fs::path path;
  std::string concept_name;             // file name without extension
  std::vector<std::string> includes{};  // concepts of this project that it includes
  int lines = 0;
  bool cli = false;
};

// Lowest first: a file may include what stands on its own line or above it.
const char* const layers[] = {
    "error words json_number spelling vectorised lanes normal_table",
    "fluids material departure csv density_grid started_threads ordered_work carry_on",
    ("weighing weighing_check scale_shown tables marks reading_likelihood displacement_errors toml_row table_rows "
     "material_rows table_reader table_check material_check"),
    "density density_summary curve_cells curve_weights budget predictions hypothesis layer conductivity bench_test "
    "step_limits odds_sheets",
    "mixed_heap",
    "draws line_axes line_set drawn_density bent_steps normal_bank fit pile hypothesis_words",
    "share_histogram",
    "share_grid",
    "share_table share_points drawn_share",
    "members",
    "prior posterior prepared predictive",
    "analysis analysis_silver draw_weights answer_book",
    "learned_mix mix_nodes mix_lesson mix_chain mix_sampler lot remedy given_answers conflicts",
    "claim claim_words doubt next_test next_weighing batch_context",
    "reference",
    ("verdict mixed_verdict candidates fractions weighed_draws leanings ruled_out cautions warnings sentence reasons "
     "advice piece_text piece_numbers piece_reader typed_scale "
     "settings "
     "plan plan_neighbours"),
    "sitting sitting_adjust sitting_design sitting_solve sitting_correct sitting_remarks sitting_repeats sitting_fit",
    "jar group_sums jar_row jar_draws jar_total",
    ("report html_picture html_report report_words report_text report_json json_value report_tables plan_report "
     "jar_report jar_report_words jar_report_text jar_report_json batch batch_columns batch_row row_parser "
     "row_verdict batch_passes batch_summary batch_worker"),
    "cli file_streams help_format interrupt out_file progress unknown_words",
};

std::map<std::string, int> layer_of_concept()
{
  std::map<std::string, int> layer;
  int height = 0;
  for (const char* names : layers) {
    std::istringstream words(names);
    for (std::string word; words >> word;) {
      layer[word] = height;
    }
    ++height;
  }
  return layer;
}

// The concept that an include line of this project names, or nothing.
std::string included_concept(const std::string& line)
{
  const std::size_t quote = line.find('"');
  if (line.rfind("#include", 0) != 0 || quote == std::string::npos) {
    return "";
  }
  return fs::path(line.substr(quote + 1, line.rfind('"') - quote - 1)).stem().string();
}

SourceFile read_source(const fs::path& path)
{
  SourceFile file{.path = path, .concept_name = path.stem().string(), .cli = path.parent_path().filename() == "cli"};
  if (file.cli) {
    file.concept_name = "cli";
  }
  std::ifstream in(path);
  for (std::string line; std::getline(in, line);) {
    ++file.lines;
    if (const std::string name = included_concept(line); !name.empty()) {
      file.includes.push_back(file.cli && name == "commands" ? "cli" : name);
    }
  }
  return file;
}

std::vector<SourceFile> sources()
{
  std::vector<SourceFile> all;
  for (const char* directory : {"include/bilancetta", "src"}) {
    for (const auto& entry : fs::recursive_directory_iterator(fs::path(BILANCETTA_SOURCE) / directory)) {
      const auto extension = entry.path().extension();
      if (extension == ".hpp" || extension == ".cpp") {
        all.push_back(read_source(entry.path()));
      }
    }
  }
  return all;
}

}  // namespace

TEST_CASE("no include points up", "[layers]")
{
  const auto layer = layer_of_concept();
  int arrows = 0;
  for (const SourceFile& file : sources()) {
    INFO(file.path.string());
    INFO("every new concept needs a line of `layers` in this test");
    REQUIRE(layer.count(file.concept_name) == 1);
    for (const std::string& name : file.includes) {
      INFO("includes " << name);
      REQUIRE(layer.count(name) == 1);
      CHECK(layer.at(name) <= layer.at(file.concept_name));
      ++arrows;
    }
  }
  CHECK(arrows > 50);
}

TEST_CASE("public headers include no private ones", "[layers]")
{
  for (const SourceFile& file : sources()) {
    if (file.path.parent_path().filename() != "bilancetta") {
      continue;
    }
    for (const std::string& name : file.includes) {
      INFO(file.path.string() << " includes " << name);
      CHECK(fs::exists(file.path.parent_path() / (name + ".hpp")));
    }
  }
}

TEST_CASE("headers have at most 200 lines, sources 300, commands 200", "[layers]")
{
  for (const SourceFile& file : sources()) {
    const bool header = file.path.extension() == ".hpp";
    INFO(file.path.string() << " has " << file.lines << " lines");
    CHECK(file.lines <= (header || file.cli ? 200 : 300));
  }
}

TEST_CASE("only the commands print, exit or know the command line parser, and nothing asks what all threads share",
          "[layers]")
{
  for (const SourceFile& file : sources()) {
    if (file.cli) {
      continue;
    }
    std::ifstream in(file.path);
    std::ostringstream text;
    text << in.rdbuf();
    for (const char* word : {"std::cout", "std::cerr", "std::exit(", "printf(", "CLI11", "CLI/CLI.hpp", "<cctype>",
                             "std::strerror(", "std::lgamma("}) {
      INFO(file.path.string() << " holds " << word);
      CHECK_FALSE(testing::contains(text.str(), word));
    }
  }
}

TEST_CASE("a function that is compiled for several processors lets no exception out", "[layers]")
{
  int marked = 0;
  for (const SourceFile& file : sources()) {
    std::ifstream in(file.path);
    std::string line;
    while (std::getline(in, line)) {
      if (!line.starts_with("BILANCETTA_VECTORISED ")) {
        continue;
      }
      std::string signature = line;
      for (; std::getline(in, line) && line != "{";) {
        signature += line;
      }
      INFO(file.path.string() << " holds " << signature);
      CHECK(signature.ends_with(" noexcept"));
      ++marked;
    }
  }
  CHECK(marked > 10);
}
