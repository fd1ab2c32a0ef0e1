; The set-up program for Windows: for the person who runs it, without an administrator. Made by
; release.sh, which names VERSION, ICON, OUT, and PARTS (what is brought and what is removed).
; `/S` asks nothing; `/D=FOLDER`, last, names another folder. Records and captures lie in the
; person's own folders, of which this knows nothing: they stay.
Target amd64-unicode
SetCompressor /SOLID lzma
ManifestDPIAware true
; A file that cannot be written ends it: half a program is worse than none.
AllowSkipFiles off
Name "Trundle ${VERSION}"
OutFile "${OUT}"
Icon "${ICON}"
UninstallIcon "${ICON}"
RequestExecutionLevel user
InstallDir "$LOCALAPPDATA\Programs\Trundle"
InstallDirRegKey HKCU "Software\Trundle" "Folder"
!define ENTRY "Software\Microsoft\Windows\CurrentVersion\Uninstall\Trundle"

Page instfiles
UninstPage uninstConfirm
UninstPage instfiles

Section
  ; A program that runs cannot be written over; said before anything is changed.
  IfFileExists "$INSTDIR\trundle.exe" 0 free
  ClearErrors
  FileOpen $0 "$INSTDIR\trundle.exe" a
  IfErrors 0 closed
  MessageBox MB_OK|MB_ICONEXCLAMATION "Trundle is running, so nothing was changed. Close it, then set it up again." /SD IDOK
  SetErrorLevel 4
  Abort
closed:
  FileClose $0
free:
  ; What an older version brought goes first, so that nothing of it stays among the new.
  IfFileExists "$INSTDIR\remove.exe" 0 empty
  ExecWait '"$INSTDIR\remove.exe" /S _?=$INSTDIR' $0
  IntCmp $0 0 empty
  MessageBox MB_OK|MB_ICONEXCLAMATION "The older version could not be removed, so the new one was not set up. Remove the older one in Windows' settings, then set up the new one again." /SD IDOK
  SetErrorLevel 5
  Abort
empty:
  !include "${PARTS}/brought.nsh"
  WriteUninstaller "$INSTDIR\remove.exe"
  ; The folder that the entry starts in: what is written where one is belongs among one's own files.
  SetOutPath "$PROFILE"
  CreateShortcut "$SMPROGRAMS\Trundle.lnk" "$INSTDIR\trundle.exe" "" "$INSTDIR\trundle.ico"
  WriteRegStr HKCU "Software\Trundle" "Folder" "$INSTDIR"
  WriteRegStr HKCU "${ENTRY}" "DisplayName" "Trundle"
  WriteRegStr HKCU "${ENTRY}" "DisplayVersion" "${VERSION}"
  WriteRegStr HKCU "${ENTRY}" "DisplayIcon" "$INSTDIR\trundle.ico"
  WriteRegStr HKCU "${ENTRY}" "UninstallString" '"$INSTDIR\remove.exe"'
  WriteRegStr HKCU "${ENTRY}" "QuietUninstallString" '"$INSTDIR\remove.exe" /S'
  WriteRegDWORD HKCU "${ENTRY}" "NoModify" 1
  WriteRegDWORD HKCU "${ENTRY}" "NoRepair" 1
SectionEnd

Section Uninstall
  ClearErrors
  FileOpen $0 "$INSTDIR\trundle.exe" a
  IfErrors 0 closed
  IfFileExists "$INSTDIR\trundle.exe" 0 gone
  MessageBox MB_OK|MB_ICONEXCLAMATION "Trundle is running, so nothing was removed. Close it, then remove it again." /SD IDOK
  SetErrorLevel 4
  Abort
closed:
  FileClose $0
gone:
  !include "${PARTS}/removed.nsh"
  Delete "$INSTDIR\remove.exe"
  SetOutPath "$TEMP"
  RMDir "$INSTDIR"
  Delete "$SMPROGRAMS\Trundle.lnk"
  DeleteRegKey HKCU "${ENTRY}"
  DeleteRegKey HKCU "Software\Trundle"
SectionEnd
