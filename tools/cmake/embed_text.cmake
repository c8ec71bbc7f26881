# Writes a C++ source that defines a function of a header, which returns the given text files by their names:
#   cmake -DOUTPUT=x.cpp -DHEADER=sim/x.hpp -DFUNCTION=embedded_x "-DFILES=a;b" -P embed_text.cmake
# A .gz file is unpacked and loses that ending. Pointers to source maps are dropped: inside another file they would make
# a browser's tools look for something that is not there.
set(text "// Made at build time.\n#include \"${HEADER}\"\n\nnamespace overwinter {\n\n")
string(APPEND text "const std::vector<EmbeddedFile>& ${FUNCTION}() {\n  static const std::vector<EmbeddedFile> files = {\n")
foreach(file IN LISTS FILES)
  get_filename_component(name ${file} NAME)
  if(name MATCHES "\\.gz$")
    string(REGEX REPLACE "\\.gz$" "" name ${name})
    execute_process(COMMAND gzip -dc ${file} OUTPUT_VARIABLE content COMMAND_ERROR_IS_FATAL ANY)
  else()
    file(READ ${file} content)
  endif()
  string(REGEX REPLACE "//# sourceMappingURL=[^\n]*" "" content "${content}")
  string(REGEX REPLACE "/\\*# sourceMappingURL=[^*]*\\*/" "" content "${content}")
  string(APPEND text "      {\"${name}\", R\"text-file(${content})text-file\"},\n")
endforeach()
string(APPEND text "  };\n  return files;\n}\n\n}  // namespace overwinter\n")
file(WRITE ${OUTPUT} "${text}")
