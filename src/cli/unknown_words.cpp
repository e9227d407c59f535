#include <fmt/format.h>

#include <algorithm>

#include "bilancetta/spelling.hpp"
#include "bilancetta/tables.hpp"
#include "commands.hpp"

using namespace bilancetta;

namespace
{

// The command that was reached, innermost.
const CLI::App& command_reached(const CLI::App& app)
{
  const auto chosen = app.get_subcommands();
  return chosen.empty() ? app : command_reached(*chosen.front());
}

std::string path_of(const CLI::App& command)
{
  return (command.get_parent() ? path_of(*command.get_parent()) + " " : "") + command.get_name();
}

// Also of the commands above, which may stand before it, but for those of the program itself.
std::vector<std::string> option_names(const CLI::App& command)
{
  const CLI::App* above = command.get_parent();
  std::vector<std::string> names = above && above->get_parent() ? option_names(*above) : std::vector<std::string>();
  for (const CLI::Option* option : command.get_options()) {
    for (const std::string& name : option->get_lnames()) {
      names.push_back("--" + name);
    }
  }
  return names;
}

std::vector<std::string> command_names(const CLI::App& command)
{
  std::vector<std::string> names;
  for (const CLI::App* sub : command.get_subcommands([](const CLI::App*) { return true; })) {
    names.push_back(sub->get_name());
  }
  return names;
}

// What to type where the name of a bench test was taken for an option; empty if it is none.
std::string test_meant(const std::string& name, const std::vector<std::string>& known)
{
  if (std::find(known.begin(), known.end(), "--test") == known.end()) {
    return "";
  }
  const std::string key = folded(name.substr(2));
  for (const BenchTest& test : built_in_tables().tests) {
    if (key == test.key || std::find(test.names.begin(), test.names.end(), key) != test.names.end()) {
      return fmt::format(
          "what a test showed is typed --test {}={}", test.key,
          test.answers.empty() ? "NUMBER" : fmt::format("ANSWER, one of {}", fmt::join(test.answers, ", ")));
    }
  }
  return "";
}

}  // namespace

std::string message_of(const CLI::App& app, const std::vector<std::string>& typed, const CLI::ParseError& error)
{
  const CLI::App& command = command_reached(app);
  const std::string path = path_of(command);
  const std::string help = fmt::format("; see {} --help", path);
  const std::vector<std::string> commands = command_names(command);
  const std::size_t place = std::count(path.begin(), path.end(), ' ');
  const bool other_word = place < typed.size() && typed[place].compare(0, 1, "-") != 0;
  if (!commands.empty() && other_word) {
    return fmt::format("{} has no command \"{}\"; the nearest are {}{}", path, typed[place],
                       nearest_names(typed[place], commands), help);
  }
  for (const std::string& word : typed) {
    const std::string name = word.substr(0, word.find('='));
    const std::vector<std::string> known = option_names(command);
    const bool unknown = name.size() > 2 && name.compare(0, 2, "--") == 0 && name != "--help" &&
                         std::find(known.begin(), known.end(), name) == known.end() &&
                         app.get_option_no_throw(name) == nullptr;
    if (unknown) {
      const std::string test = test_meant(name, known);
      if (!test.empty()) {
        return fmt::format("{} has no option {}: {}{}", path, name, test, help);
      }
      return fmt::format("{} has no option {}; the nearest are {}{}", path, name, nearest_names(name, known), help);
    }
  }
  if (!commands.empty()) {
    return fmt::format("a command is needed: one of {}{}", nearest_names("", commands), help);
  }
  if (error.get_name() == "ArgumentMismatch") {
    const std::string what = error.what();
    const std::string name = what.substr(0, what.find(':'));
    const auto times = std::count_if(typed.begin(), typed.end(),
                                     [&](const std::string& word) { return word.substr(0, word.find('=')) == name; });
    return fmt::format("{} {}{}", name, times > 1 ? "is given twice; once is enough" : "needs a value", help);
  }
  const auto dashed = std::find_if(typed.begin(), typed.end(), [](const std::string& word) {
    return word.size() > 1 && word[0] == '-' && word[1] != '-';
  });
  if (error.get_name() == "RequiredError" && dashed != typed.end()) {
    return fmt::format("{}, and {} was taken for an option; a name that begins with - is written ./{}{}", error.what(),
                       *dashed, *dashed, help);
  }
  return std::string(error.what()) + help;
}
